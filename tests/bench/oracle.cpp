#include <cmath>

#include "tests/bench/strategies.h"

namespace lapwright::bench {
namespace {}  // namespace

Outcome run_oracle(World& world, const Stage& stage, const ProvingPlan& plan) {
  std::vector<ProvingReadings> readings;
  world.run(prove(world.rig(), world.clock(), stage, plan, readings), limit_s);
  const std::vector<StepAim> aims = slow_freight(stage.engine);
  Outcome outcome;
  outcome.track_s = world.now_s();
  for (std::size_t i = 0; i < plan.cells.size(); ++i) {
    const ProvingCell& cell = plan.cells[i];
    outcome.passes += static_cast<int>(readings[i].speeds_mm_s.size()) + readings[i].failed;
    const StepAim& aim = aims[static_cast<std::size_t>(cell.step - 1)];
    const bool in_tolerance = std::abs(cell.true_mm_s - aim.speed_mm_s) <= aim.tolerance_mm_s;
    Verdict verdict = in_tolerance ? Verdict::proved : Verdict::best_attainable;
    if (readings[i].speeds_mm_s.empty()) verdict = Verdict::failed;
    outcome.claims.push_back(CellClaim{cell.step, cell.direction, verdict});
  }
  return outcome;
}

}  // namespace lapwright::bench
