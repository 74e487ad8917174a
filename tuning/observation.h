// What goes into the response of an engine, what comes out, and the scales that the model assumes.
#pragma once

#include "tuning/rounding.h"
#include "tuning/throttle.h"

namespace lapwright {

/// One pass as the model sees it. Speeds are in model units: the sheet's top speed is 18 units, whatever its scale.
struct Observation {
  double drive = 0;  ///< counts of 1/255 of full drive
  Direction direction = Direction::forward;
  double speed = 0;      ///< units
  double running_s = 0;  ///< how long the engine had run when the pass was taken
  double timing_sd = 0;  ///< units; standard uncertainty from time stamps and, unsettled, from a short run-up
  /// 0: taken in this session. An engine that has stood for days runs a little faster or slower than it did, and cold.
  int sessions_ago = 0;
};

struct Query {
  double drive = 0;
  Direction direction = Direction::forward;
};

/// Speed of the warm engine as the passes so far show it.
struct Estimate {
  double mean = 0;  ///< units
  double sd = 0;    ///< units
};

/// What the covariance assumes; found from the passes by marginal likelihood under weak log-normal priors.
struct ResponseScales {
  double shape = 0.5;            ///< units: deviation of the curve from a straight line
  double warming = 0.15;         ///< units that a cold engine lacks at every speed
  double warming_share = 0.008;  ///< share of its speed that a cold engine lacks besides
  double wander = 0.5;           ///< slow wander, in steps of 0.02 units + 0.2 % of speed
  double scatter = 0.008;        ///< units, from pass to pass whatever the speed
  double repeatability = 0.004;  ///< share of speed, from pass to pass
  double cell = 0.08;            ///< counts: deviation of one drive level from the curve
  Rounding rounding;             ///< of the drive by the decoder
};

}  // namespace lapwright
