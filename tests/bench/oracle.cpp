#include "tests/bench/strategies.h"

namespace lapwright::bench {
namespace {

constexpr double limit_s = 24 * 3600;

}  // namespace

Outcome run_oracle(World& world, const Stage& stage, const ProvingPlan& plan) {
  std::vector<ProvingReadings> readings;
  world.run(prove(world.rig(), world.clock(), stage, plan, readings), limit_s);
  Outcome outcome;
  outcome.track_s = world.now_s();
  for (std::size_t i = 0; i < plan.cells.size(); ++i) {
    const ProvingCell& cell = plan.cells[i];
    outcome.passes += static_cast<int>(readings[i].speeds_mm_s.size()) + readings[i].failed;
    const Verdict verdict = readings[i].speeds_mm_s.empty() ? Verdict::failed : Verdict::proved;
    outcome.claims.push_back(CellClaim{cell.step, cell.direction, verdict});
  }
  return outcome;
}

}  // namespace lapwright::bench
