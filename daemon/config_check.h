// The desk check of a configuration: every mistake in it and in all that it names, without running anything.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/exit_codes.h"

namespace lapwright {

struct ConfigCheck {
  ExitCode code = exit_ok;            ///< of the worst kind of mistake: in the configuration, then in what it names
  std::vector<std::string> mistakes;  ///< one line each, with file, line, JSON pointer and remedy
  std::vector<std::string> remarks;   ///< what the service starts in spite of
  std::string summary;                ///< what was checked and is in order; empty where there are mistakes
};

/// Records and sheets are looked at also where the configuration itself has mistakes, as far as it can be read.
/// @param shift_file  in the place of the shift that it names; empty: that one
[[nodiscard]] ConfigCheck check_configuration(const std::filesystem::path& file,
                                              const std::filesystem::path& shift_file = {});

}  // namespace lapwright
