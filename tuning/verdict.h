// What becomes of one step in one direction: the verdict, the evidence, and why it is short of a proof.
#pragma once

#include <cstdint>

#include "tuning/throttle.h"

namespace lapwright {

enum class Verdict : std::uint8_t {
  not_measured,
  proved,           ///< the confidence interval lies in tolerance
  best_attainable,  ///< out of tolerance, and no other value is closer
  marginal,         ///< in tolerance, but the engine does not repeat well enough to prove it
  failed,
};

/// Why a step is not proved.
enum class Shortfall : std::uint8_t {
  none,
  resolution,     ///< neighbouring table values lie on both sides of the target
  directions,     ///< one value can't serve both directions
  floor,          ///< the engine stalls at anything slower
  repeatability,  ///< passes scatter too much
  out_of_drive,   ///< full drive is too slow
  interrupted,    ///< the work ended before
};

struct CellResult {
  int step = 0;
  Direction direction = Direction::forward;
  double target_mm_s = 0;
  double tolerance_mm_s = 0;
  double speed_mm_s = 0;       ///< of the warm engine
  double half_width_mm_s = 0;  ///< of the two-sided confidence interval, gate positions included
  int passes = 0;              ///< taken at exactly this drive
  Verdict verdict = Verdict::not_measured;
  Shortfall shortfall = Shortfall::none;
  bool as_before = false;  ///< an inspection: it surely runs as an earlier session left it, within the tolerance
};

}  // namespace lapwright
