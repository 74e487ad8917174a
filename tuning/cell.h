// One step in one direction while it is being proved: what is wanted, what is known, how it was judged.
#pragma once

#include <cstddef>

#include "tuning/observation.h"
#include "tuning/verdict.h"

namespace lapwright {

/// Wanted speed of a throttle step in model units (the sheet's top speed is 18).
struct Aim {
  int step = 0;
  double speed = 0;
  double tolerance = 0;
  bool prove = false;
};

/// One step in one direction.
struct Cell {
  std::size_t aim = 0;  ///< index into the aims
  Direction direction = Direction::forward;
  bool visited = false;  ///< passed at some table value
  int stalls = 0;        ///< at the present table value
  bool sticks = false;   ///< it stood once where it was not kicked
  int fruitless = 0;     ///< attempts in a row without a reading
  Estimate estimate;
  double doubt = 0;               ///< standard deviation of the estimate and of what the model may be wrong by, units
  double chance = 0;              ///< that the warm speed lies in tolerance
  double hope = 0;                ///< that a few more passes at the present drive would prove it
  int own_passes = 0;             ///< at exactly the present drive
  bool rests_on_earlier = false;  ///< all of them were taken in an earlier session, whose settings it still has
  Verdict verdict = Verdict::not_measured;
  Shortfall shortfall = Shortfall::none;

  [[nodiscard]] bool settled() const { return verdict != Verdict::not_measured; }
};

}  // namespace lapwright
