#include "tests/bench/experiment.h"

#include <sys/resource.h>

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <functional>
#include <optional>
#include <stdexcept>
#include <utility>

#include "tests/bench/judge.h"
#include "tests/bench/strategies.h"

namespace lapwright::bench {
namespace {

constexpr double fastest_smph = 22;  // the curve is looked at up to here

struct Trial {
  std::string name;
  Outcome outcome;
  simulated::Decoder decoder;  ///< as the strategy left it
  double cpu_s = 0;
  double peak_mb = 0;
};

using Strategy = std::function<Outcome(World&)>;

double peak_mb() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

double cpu_now_s() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

Trial attempt(const std::string& name, const Stage& stage, const Strategy& strategy) {
  const double before_s = cpu_now_s();
  World world(stage);
  Outcome outcome = strategy(world);
  return Trial{name, std::move(outcome), world.rig().decoder(), cpu_now_s() - before_s, peak_mb()};
}

std::vector<Trial> tunes(const Options& options, const Stage& stage) {
  std::vector<Trial> trials;
  if (!options.wants(lapwright_name)) return trials;
  const auto lapwright = [&](const std::string& name, const Stage& where) {
    trials.push_back(attempt(name, where, [&where](World& world) { return run_lapwright(world, where); }));
  };
  lapwright(lapwright_name, stage);
  if (!options.variants) return trials;
  Stage jittery = stage;
  jittery.railway.board.stamp_error_s = 0.005;
  lapwright(jitter_name, jittery);
  Stage faulty = stage;
  faulty.railway.board.miss = 0.03;
  faulty.railway.board.twin = 0.05;
  lapwright(faults_name, faulty);
  return trials;
}

std::string in_words(const DriveSettings& settings) {
  char text[80];
  std::snprintf(text, sizeof text, "CV5 %d, trims %d/%d", settings.top_voltage, settings.trim[0], settings.trim[1]);
  return text;
}

double base_time_s(const Stage& stage, const std::vector<StepAim>& aims) {
  double sum_s = 0;
  for (const StepAim& aim : aims) sum_s += 2 * stage.trap.base_mm / aim.speed_mm_s;
  return sum_s;
}

int unproved(const Outcome& outcome) {
  const auto failed = [](const CellClaim& claim) { return claim.verdict == Verdict::failed; };
  return static_cast<int>(std::ranges::count_if(outcome.claims, failed));
}

/// The quickest of several plannings that leave the fewest cells without a pass: the bound is to be a low one.
Trial oracle_trial(const Stage& stage, const simulated::Decoder& tuned, const ProvingPlan& plan) {
  std::optional<Trial> best;
  for (const double first_s : {0.0, 0.3, 0.6}) {
    for (const double later_s : {0.0, 0.15, 0.3}) {
      const ProvingPlan longer = with_longer_run_ups(plan, RunUpMargin{first_s, later_s});
      Trial trial = attempt(oracle_name, stage, [&](World& world) {
        world.rig().decoder() = tuned;  // before its first packet
        return run_oracle(world, stage, longer);
      });
      const auto rank = [](const Trial& one) { return std::pair(unproved(one.outcome), one.outcome.track_s); };
      if (!best || rank(trial) < rank(*best)) best.emplace(std::move(trial));
    }
  }
  return *best;
}

std::vector<Trial> practices(const Options& options, const Stage& stage) {
  std::vector<Trial> trials;
  if (stage.railway.shape == TrackShape::shuttle) return trials;  // no laps on it
  if (options.wants(by_hand_name)) {
    trials.push_back(attempt(by_hand_name, stage, [&](World& world) { return run_by_hand(world, stage); }));
  }
  if (options.wants(bisection_name)) {
    trials.push_back(attempt(bisection_name, stage, [&](World& world) { return run_bisection(world, stage); }));
  }
  return trials;
}

const char* group_name(simulated::EngineGroup group) {
  switch (group) {
    case simulated::EngineGroup::regulated:
      return "regulated";
    case simulated::EngineGroup::open_loop:
      return "open_loop";
    case simulated::EngineGroup::coarse:
      break;
  }
  return "coarse";
}

}  // namespace

RunResult run_experiment(const Options& options, const simulated::EngineDescription& engine, std::uint64_t seed) {
  const Stage stage = make_stage(options, engine, seed);
  std::vector<Trial> trials = tunes(options, stage);

  const std::vector<StepAim> aims = slow_freight(engine);
  const simulated::Railway railway(stage.railway, engine, seed);  // for its track and its decoder; it never runs
  simulated::Truth truth(engine, railway.track(), railway.track_volts(), reference(stage, railway.track()));
  const int levels = (1 << engine.decoder.drive_bits) - 1;
  const TrueCurve curve(truth, levels, railway.decoder().inverted(), fastest_smph * smph_mm_s(engine));
  const LevelLaw law{engine.decoder.table_scaled, engine.decoder.trims_act, levels, engine.decoder.drive_cut_off};
  const BestSettings best = search_settings(law, curve, aims);
  Bench bench{aims, truth, curve, law, attainable_steps(aims, truth, railway.decoder(), best)};

  RunResult result;
  result.engine = engine.name;
  result.group = group_name(engine.group);
  result.seed = seed;
  result.base_time_s = base_time_s(stage, aims);
  for (const bool attainable : bench.attainable) result.attainable += attainable ? 1 : 0;
  result.best_settings = in_words(best.settings);
  if (options.wants(oracle_name)) {
    simulated::Decoder tuned = plain(railway.decoder());
    install(tuned, best.settings);
    ProvingPlan plan = plan_proving(stage, truth, tuned, aims);
    result.run_up_s = plan.cells.empty() ? 0 : plan.cells.front().run_up_s;
    plan_passes(stage, tuned, aims, plan);
    trials.push_back(oracle_trial(stage, tuned, plan));
  }
  for (Trial& trial : practices(options, stage)) trials.push_back(std::move(trial));
  for (const Trial& trial : trials) {
    Judged judged = judge(bench, trial.decoder, trial.outcome);
    judged.cpu_s = trial.cpu_s;
    judged.peak_mb = trial.peak_mb;
    result.strategies[trial.name] = judged;
  }
  return result;
}

}  // namespace lapwright::bench
