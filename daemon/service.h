// The service: the same shift in real time, with a log, a control socket, and an orderly end on SIGTERM or SIGINT.
#pragma once

#include <filesystem>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/order.h"

namespace lapwright {

struct ServeOptions {
  std::filesystem::path record;  ///< file that gets the traffic of all links; empty: none
  bool anew = false;             ///< begin the configuration's shift with its first engine, whatever was done before
  bool once = false;             ///< end after the last engine instead of staying with a dead track
};

/// @returns an ExitCode. @throws FileLost
int serve(const Configuration& configuration, const std::vector<Job>& jobs, ServeOptions options);

}  // namespace lapwright
