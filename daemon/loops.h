// Several loops in one process: each with a configuration, a rig, a guard, a queue and a state folder of its own.
#pragma once

#include <string>
#include <vector>

#include "daemon/service.h"

namespace lapwright {

struct ServedLoop {
  Configuration configuration;
  std::vector<Job> jobs;
};

/// Empty: they can be served side by side; otherwise what two of them share, and what to do.
[[nodiscard]] std::string what_loops_share(const std::vector<ServedLoop>& loops);

/// One loop: in this thread. Several: each in a thread of its own, so that none can delay another's guard. A halt at
/// any of their control sockets halts all; where a loop's service ends by a fault the others go on.
/// @returns the most severe ExitCode. @throws FileLost and what else a service throws, once all have ended
int serve(const std::vector<ServedLoop>& loops, const ServeOptions& options);

}  // namespace lapwright
