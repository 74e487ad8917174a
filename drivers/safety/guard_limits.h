// What no engine and no procedure may go beyond, from the configuration alone.
#pragma once

#include <set>

#include "drivers/safety/current_watch.h"
#include "drivers/safety/motion_watch.h"
#include "drivers/safety/running_watch.h"

namespace lapwright {

/// The CVs that a tune may touch: 2-6, 19, 23, 24, 29, 65, 66-95. Never the address, the decoder lock or a reset.
[[nodiscard]] std::set<int> cvs_of_a_tune();

/// From the configuration alone; no procedure can change them.
struct GuardLimits {
  std::set<int> cvs = cvs_of_a_tune();
  int writes_per_cv = 60;  ///< of one job: the decoder's memory wears
  RunningLimits running;
  CurrentLimits current;
  bool usual_peak = true;  ///< `current.peak_mA` is the usual one of the engine's scale
  bool usual_mean = true;  ///< the same for `current.mean_mA`
  MotionLimits motion;
  double late_s = 0.1;                    ///< how late the guard itself may come to look, while the track is live
  bool accept_no_current_sensor = false;  ///< the owner knows that shorts and stalls are not noticed then
};

}  // namespace lapwright
