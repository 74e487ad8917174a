#include "tests/bench/proving.h"

#include <algorithm>
#include <cmath>

#include "tests/bench/judge.h"
#include "tests/bench/world.h"

namespace lapwright::bench {
namespace asio = boost::asio;
namespace {

constexpr double bias_share = 0.1;  // of tolerance that an unfinished run-up may leave
constexpr double least_run_up_s = 0.1;
constexpr double kick_below_smph = 3.5;  // slower starts from rest may stick (static friction)
constexpr double kick_smph = 5;
constexpr double z = 1.645;
constexpr int most_passes = 4;
constexpr int retries_in_tolerance = 2;
constexpr std::size_t first_cells = 6;
constexpr int scatter_passes = 8;

ThrottleCommand command(int step, Direction direction) { return ThrottleCommand{step, direction, StepMode::steps28}; }

/// Time constant from the time to come within a share of a jump; wider shares where wheels or rails ripple too much.
double settling_tau_s(simulated::Truth& truth, const simulated::Decoder& decoder) {
  const double from_share = decoder.drive_share(command(cv::table_entries / 2, Direction::forward));
  const double to_share = decoder.drive_share(command(cv::table_entries, Direction::forward));
  const Direction moves = decoder.inverted() ? Direction::reverse : Direction::forward;
  const double from_mm_s = truth.speed_mm_s(from_share, moves);
  const double to_mm_s = truth.speed_mm_s(to_share, moves);
  const double jump = 1 - from_mm_s / to_mm_s;
  for (const double within : {0.03, 0.06, 0.12}) {
    const std::optional<double> time_s = truth.settling_s(from_share, to_share, moves, within);
    if (time_s && within < jump) return std::max(*time_s, 0.05) / std::log(jump / within);
  }
  return 0.3;  // nothing to be seen through the ripple: a small motor with a flywheel (from memory)
}

/// An exponential approach that began `run_up` before the base is V·tau·exp(-run_up/tau) short at the base's end.
double run_up_s(double tau_s, double speed_mm_s, double base_mm, double tolerance_mm_s) {
  const double short_share = speed_mm_s * tau_s / base_mm;
  const double allowed_share = bias_share * tolerance_mm_s / speed_mm_s;
  return std::max(least_run_up_s, tau_s * std::log(short_share / allowed_share));
}

/// Scatter in tolerances at two or more speeds, straight between them.
struct Scatter {
  std::vector<double> speeds_mm_s;
  std::vector<double> sds;
  [[nodiscard]] double at(double speed_mm_s) const {
    if (speed_mm_s <= speeds_mm_s.front()) return sds.front();
    for (std::size_t i = 1; i < speeds_mm_s.size(); ++i) {
      if (speed_mm_s > speeds_mm_s[i]) continue;
      const double share = (speed_mm_s - speeds_mm_s[i - 1]) / (speeds_mm_s[i] - speeds_mm_s[i - 1]);
      return sds[i - 1] + share * (sds[i] - sds[i - 1]);
    }
    return sds.back();
  }
};

double scatter_of(const std::vector<double>& readings) {
  double sum = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) sum += std::pow(readings[i] - readings[i - 1], 2);
  return readings.size() < 2 ? 0 : std::sqrt(sum / (2.0 * static_cast<double>(readings.size() - 1)));
}

Scatter measure_scatter(const Stage& stage, const simulated::Decoder& decoder, const ProvingPlan& plan) {
  Stage apart = stage;
  apart.seed = stage.seed + 1000003;
  apart.railway.board.miss = 0;
  apart.railway.board.twin = 0;
  ProvingPlan few;
  for (const ProvingCell& cell : plan.cells) {
    const bool chosen = cell.step == 28 || cell.step == 16 || cell.step == 8 || cell.step == 3;
    if (chosen) few.cells.push_back(cell);
  }
  for (ProvingCell& cell : few.cells) cell.passes = scatter_passes;
  World world(apart);
  world.rig().decoder() = decoder;
  std::vector<ProvingReadings> readings;
  world.run(prove(world.rig(), world.clock(), apart, few, readings), limit_s);
  std::map<int, std::pair<double, double>> by_step;  // speed, larger scatter of the directions
  for (std::size_t i = 0; i < few.cells.size(); ++i) {
    auto& [speed, sd] = by_step[few.cells[i].step];
    speed = few.cells[i].true_mm_s;
    sd = std::max(sd, scatter_of(readings[i].speeds_mm_s));
  }
  Scatter scatter;
  for (const auto& [step, pair] : by_step) {
    scatter.speeds_mm_s.push_back(pair.first);
    scatter.sds.push_back(pair.second);
  }
  return scatter;
}

}  // namespace

ProvingPlan plan_proving(const Stage& stage, simulated::Truth& truth, const simulated::Decoder& decoder,
                         const std::vector<StepAim>& aims) {
  ProvingPlan plan;
  plan.settling_tau_s = settling_tau_s(truth, decoder);
  Direction direction = Direction::forward;
  for (auto aim = aims.rbegin(); aim != aims.rend(); ++aim) {
    for (int i = 0; i < 2; ++i) {
      const double speed = truth.speed_mm_s(decoder, command(aim->step, direction));
      const double lead_s = run_up_s(plan.settling_tau_s, aim->speed_mm_s, stage.trap.base_mm, aim->tolerance_mm_s);
      const bool attainable = std::abs(speed - aim->speed_mm_s) <= aim->tolerance_mm_s;
      const int retries = attainable ? retries_in_tolerance : 0;
      if (speed > 0) plan.cells.push_back(ProvingCell{aim->step, direction, speed, lead_s, 1, retries});
      direction = opposite(direction);
    }
  }
  return plan;
}

void plan_passes(const Stage& stage, const simulated::Decoder& decoder, const std::vector<StepAim>& aims,
                 ProvingPlan& plan) {
  const Scatter scatter = measure_scatter(stage, decoder, plan);
  const double base_share = stage.trap.base_error_mm / stage.trap.base_mm;
  for (ProvingCell& cell : plan.cells) {
    const StepAim& aim = aims[static_cast<std::size_t>(cell.step - 1)];
    // What the scatter must stay below: the way to the tolerance's edge, the gates' uncertainty set aside. A cell out
    // of tolerance is shown to be so with the same arithmetic.
    const double error = std::abs(cell.true_mm_s - aim.speed_mm_s);
    const double slack = std::abs(aim.tolerance_mm_s - error - base_share * cell.true_mm_s);
    const double wanted = std::pow(z * scatter.at(cell.true_mm_s) / std::max(slack, 1e-9), 2);
    cell.passes = static_cast<int>(std::clamp(std::ceil(wanted), 1.0, static_cast<double>(most_passes)));
  }
}

PassOrder order_for(const ProvingCell& cell, double smph) {
  PassOrder order;
  order.step = cell.step;
  order.direction = cell.direction;
  order.expected_mm_s = cell.true_mm_s;
  order.run_up_s = cell.run_up_s;
  order.kick_mm_s = cell.true_mm_s < kick_below_smph * smph ? kick_smph * smph : 0;
  order.patience = 1.3;
  return order;
}

asio::awaitable<void> prove_cell(Motion& motion, PassOrder order, int retries, ProvingReadings& readings) {
  for (int attempt = 0; attempt <= retries; ++attempt) {
    const PassReading reading = co_await motion.pass(order);
    if (reading.trouble == PassTrouble::none) {
      readings.speeds_mm_s.push_back(reading.speed_mm_s);
      co_return;
    }
    ++readings.failed;
    order.run_up_s *= 1.5;  // the run-up was too short for the turn
    co_await motion.recover(order.direction);
  }
}

asio::awaitable<void> prove(Rig& rig, Clock& clock, const Stage& stage, const ProvingPlan& plan,
                            std::vector<ProvingReadings>& readings) {
  const TestTrack track = simulated::as_told(stage.railway);
  const double smph = smph_mm_s(stage.engine);
  Motion motion(rig, clock, track, StepMode::steps28);
  motion.use_trap(stage.trap);
  motion.set_limits(stage.clear_below_mm, stage.clear_above_mm);
  motion.set_position(*stage.railway.start_mm - stage.railway.gates.front().position_mm);
  for (const ProvingCell& cell : plan.cells) motion.book().set(cell.step, cell.direction, cell.true_mm_s);
  readings.assign(plan.cells.size(), ProvingReadings());
  std::size_t begin = 0;
  while (begin < plan.cells.size()) {  // step by step; within a step to and fro until each cell has its passes
    std::size_t end = begin;
    int rounds = 0;
    while (end < plan.cells.size() && plan.cells[end].step == plan.cells[begin].step) {
      rounds = std::max(rounds, plan.cells[end++].passes);
    }
    for (int round = 0; round < rounds; ++round) {
      for (std::size_t i = begin; i < end; ++i) {
        const ProvingCell& cell = plan.cells[i];
        if (round >= cell.passes) continue;
        const PassOrder order = order_for(cell, smph);
        co_await prove_cell(motion, order, cell.retries, readings[i]);
      }
    }
    begin = end;
  }
}

ProvingPlan with_longer_run_ups(const ProvingPlan& plan, const RunUpMargin& margin) {
  ProvingPlan longer = plan;
  for (std::size_t i = 0; i < longer.cells.size(); ++i) {
    longer.cells[i].run_up_s += i < first_cells ? margin.first_s : margin.later_s;
  }
  return longer;
}

}  // namespace lapwright::bench
