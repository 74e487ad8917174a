// What the configuration says of the owner's own commands: when they are started, and how long they may take.
#pragma once

#include <string>
#include <vector>

namespace lapwright {

struct HookSettings {
  std::vector<std::string> on_finish;  ///< program and arguments; none: nothing is started
  std::vector<std::string> on_trip;    ///< likewise
  double limit_s = 30;                 ///< after which it is killed
};

}  // namespace lapwright
