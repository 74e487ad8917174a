// What the owner allows a shift, from the configuration.
#pragma once

#include <set>
#include <string>

namespace lapwright {

/// Caps on running time, in seconds, from the configuration.
struct RunningCaps {
  double job_s = 4 * 3600;
  double day_s = 6 * 3600;     ///< of one engine
  double shift_s = 12 * 3600;  ///< of all engines
};

/// After which trips a job is begun anew by itself, and how often before a person has to look.
struct RetryRule {
  std::set<std::string> causes;  ///< codes of StopReason
  int times = 1;
  double after_s = 30;
};

/// After which trips the shift goes on with the next engine, and how many engines may be left out like that before a
/// person has to look.
struct LeaveRule {
  std::set<std::string> causes;  ///< codes of StopReason
  int engines = 3;
};

}  // namespace lapwright
