// Proving passes with ideal planning, for an engine whose table, speeds and settling time are known.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <vector>

#include "tests/bench/stage.h"
#include "tests/bench/true_curve.h"
#include "tuning/motion.h"

namespace lapwright::bench {

/// One step in one direction.
struct ProvingCell {
  int step = 0;
  Direction direction = Direction::forward;
  double true_mm_s = 0;
  double run_up_s = 0;
  int passes = 1;
  int retries = 0;  ///< of a failed pass; none where the step can't be proved anyway
};

struct ProvingPlan {
  std::vector<ProvingCell> cells;  ///< fastest first, directions alternating
  double settling_tau_s = 0;       ///< as if speeds settled exponentially
};

/// Readings of one cell, in the order taken; a failed pass has none.
struct ProvingReadings {
  std::vector<double> speeds_mm_s;
  int failed = 0;
};

/// All 56 cells with one pass each, true speeds of the settings in the decoder, and run-ups that leave a bias of at
/// most a tenth of the tolerance. Steps that stall are left out: they can't be proved.
[[nodiscard]] ProvingPlan plan_proving(const Stage& stage, simulated::Truth& truth, const simulated::Decoder& decoder,
                                       const std::vector<StepAim>& aims);

/// Sets as many passes as the scatter needs for a one-sided 95 % bound on each side, 1 … 4. The scatter comes from
/// repeated passes of a few cells in a separate simulation, with differences of successive passes (drift cancels).
void plan_passes(const Stage& stage, const simulated::Decoder& decoder, const std::vector<StepAim>& aims,
                 ProvingPlan& plan);

/// Added to the run-ups: ideal planning is the margin with which the whole work is quickest.
struct RunUpMargin {
  double first_s = 0;  ///< of the first cells, while Motion still learns how fast the engine turns
  double later_s = 0;
};
[[nodiscard]] ProvingPlan with_longer_run_ups(const ProvingPlan& plan, const RunUpMargin& margin);

/// Drives from where the engine stands to the trap at top speed and makes the passes.
boost::asio::awaitable<void> prove(Rig& rig, Clock& clock, const Stage& stage, const ProvingPlan& plan,
                                   std::vector<ProvingReadings>& readings);

}  // namespace lapwright::bench
