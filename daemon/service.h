// The service of one loop: its shift in real time, with a log, a control socket, and an orderly end on SIGTERM or
// SIGINT.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/order.h"
#include "daemon/shared_manager.h"

namespace lapwright {

struct ServeOptions {
  std::filesystem::path record;  ///< file that gets the traffic of all links; empty: none
  bool anew = false;             ///< begin the configuration's shift with its first engine, whatever was done before
  bool once = false;             ///< end after the last engine instead of staying with a dead track
  std::string log_name = "lapwright";
  std::function<void(const std::string& who)> halt_others = {};  ///< all other loops of this process; empty: none
};

class RunningService {
 public:
  virtual ~RunningService() = default;
  /// Until it has ended. @returns an ExitCode. @throws FileLost
  virtual int run() = 0;
  /// Makes its track dead, as a halt at its own control socket does; from any thread, returns at once.
  virtual void halt_from_elsewhere(const std::string& who) = 0;
};

/// Takes the loop's state folder and control socket; nothing runs yet. @param configuration  outlives it
/// @throws FileLost, StateInUse, SocketInUse, SocketTrouble
[[nodiscard]] std::unique_ptr<RunningService> make_service(const Configuration& configuration,
                                                           const std::vector<Job>& jobs, ServeOptions options,
                                                           ManagedLoop manager);

}  // namespace lapwright
