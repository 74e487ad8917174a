// The configuration of lapwright-rig: simulated railways and the wires by which programs reach them.
#pragma once

#include <filesystem>
#include <vector>

#include "drivers/simulated/served/served_rig.h"

namespace lapwright {

struct RigFile {
  std::filesystem::path control_socket;
  std::vector<simulated::ServedRigDescription> rigs;
};

/// Paths in it are relative to the file. @throws settings::Errors  all mistakes with file, line, pointer and remedy
[[nodiscard]] RigFile load_rig_file(const std::filesystem::path& path);

}  // namespace lapwright
