// What is known of an engine from the last time that it was tuned, and what a proof of that tune's settings has left.
#pragma once

#include <vector>

#include "tuning/drive.h"
#include "tuning/observation.h"
#include "tuning/transcript.h"

namespace lapwright {

/// What the passes of a tune have told of the engine, for a later session to go on from.
struct StoredResponse {
  double unit_mm_s = 0;  ///< of the speeds
  double run_up_s = 0;   ///< that lets the top speed settle
  Rounding rounding;
  std::vector<Observation> passes;  ///< empty: nothing is known
};

/// An earlier session with the engine, whose settings its decoder holds again.
struct EarlierSession {
  DriveSettings settings;
  Traits traits;
  ResponseScales scales;
  StoredResponse response;  ///< every pass some sessions ago
};

/// A proof that did not hold: where it has left the engine, at rest, and what it saw.
struct ProofLeft {
  double at_mm = 0;            ///< of the forward end, from the trap's low gate
  bool low_came_first = true;  ///< the engine faces as the trap was thought to lie
  std::vector<Passed> passes;
};

}  // namespace lapwright
