// What one pass is to be, and what came of it.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "tuning/throttle.h"

namespace lapwright {

/// From a command to stand until the engine does, without momentum.
inline constexpr double standstill_s = 0.5;

/// Share of the top step's run-up that a step needs: what is left of a change of speed is diluted over the base, and
/// slow steps have wide tolerances and long passes. @param speed, tolerance  in the same unit as the top's
[[nodiscard]] inline double run_up_share(double speed, double tolerance, double top_speed, double top_tolerance) {
  const double ease = (tolerance / speed) / (top_tolerance / top_speed) * top_speed / speed;
  return std::clamp(1 - 0.25 * std::log(ease), 0.35, 1.0);
}

struct PassOrder {
  int step = 0;
  Direction direction = Direction::forward;
  double expected_mm_s = 0;
  double run_up_s = 0.9;          ///< time at the step before the first gate, for the speed to settle
  double kick_mm_s = 0;           ///< overcome static friction with a moment at about this speed; 0: not needed
  bool from_rest = false;         ///< the engine stands before it is given the step: does the step start it?
  double patience = 2.2;          ///< limit of each wait as a multiple of the expected time
  double reckoning_error = 0.15;  ///< share of the way since the last gate by which the engine may be elsewhere
};

enum class PassTrouble : std::uint8_t {
  none,
  no_entry,      ///< no edge at the first gate in time: stalled, slower than thought, or an edge was missed
  no_exit,       ///< seen at the first gate only
  entry_missed,  ///< seen at the second gate only
  noise,         ///< a gate chattered meanwhile
};

/// The engine passed both gates as far as is known: there is no need to look for it.
[[nodiscard]] constexpr bool knows_its_place(PassTrouble trouble) {
  return trouble == PassTrouble::entry_missed || trouble == PassTrouble::noise;
}

/// Where a search found the engine.
enum class Whereabouts : std::uint8_t {
  lost,
  before_the_gate,  ///< going on led to a gate: it had stalled, or was slower than thought
  beyond_the_gate,  ///< only going back did: it had run on, and an edge was missed
};

struct PassReading {
  PassTrouble trouble = PassTrouble::none;
  double speed_mm_s = 0;
  double timing_sd_mm_s = 0;  ///< from the stamps' uncertainty
  double doubt_mm_s = 0;      ///< the speed may be wrong by this much because an edge was doubled
  double running_s = 0;       ///< running time of the engine in the middle of the pass
};

}  // namespace lapwright
