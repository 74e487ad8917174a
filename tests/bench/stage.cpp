#include "tests/bench/stage.h"

#include <algorithm>

#include "drivers/simulated/random.h"
#include "tuning/scale.h"
#include "tuning/trap_choice.h"

namespace lapwright::bench {
namespace {

constexpr double gate_error_mm = 0.2;
constexpr double first_gate_mm = 1000;
constexpr double short_base_share = 40.0 / 150;  // of the third gate

std::vector<Gate> gates_of(const Options& options) {
  const double base_mm = options.base_mm;
  switch (options.layout) {
    case Layout::single_gate:
      return {Gate{"west", first_gate_mm, gate_error_mm}};
    case Layout::shuttle: {
      const double middle_mm = 0.5 * options.length_mm;
      return {Gate{"west", middle_mm - 0.5 * base_mm, gate_error_mm},
              Gate{"east", middle_mm + 0.5 * base_mm, gate_error_mm}};
    }
    case Layout::three_gates:
      return {Gate{"west", first_gate_mm, gate_error_mm},
              Gate{"middle", first_gate_mm + short_base_share * base_mm, gate_error_mm},
              Gate{"east", first_gate_mm + base_mm, gate_error_mm}};
    case Layout::pair:
      break;
  }
  return {Gate{"west", first_gate_mm, gate_error_mm}, Gate{"east", first_gate_mm + base_mm, gate_error_mm}};
}

}  // namespace

Stage make_stage(const Options& options, const simulated::EngineDescription& engine, std::uint64_t seed) {
  Stage stage;
  stage.engine = engine;
  stage.seed = seed;
  stage.budget_s = options.budget_s;
  stage.patience = options.patience;
  stage.railway.name = "Quillmoor & Tarn test track";
  stage.railway.shape = options.layout == Layout::shuttle ? TrackShape::shuttle : TrackShape::loop;
  stage.railway.length_mm = options.length_mm;
  stage.railway.gates = gates_of(options);
  stage.railway.board.position_error_mm = gate_error_mm;
  stage.railway.board.stamp_error_s = options.jitter_s;
  stage.railway.board.miss = options.miss;
  stage.railway.board.twin = options.twin;
  simulated::Random luck(seed ^ 0x73657420646f776eULL);
  stage.railway.start_mm = stage.railway.gates.front().position_mm - luck.uniform(400, 600);
  const TestTrack track = simulated::as_told(stage.railway);
  const SpeedOver over = options.layout == Layout::single_gate ? SpeedOver::lap : SpeedOver::trap;
  const TrapWish no_wish;
  stage.trap = choose_trap(track, over, no_wish);
  if (stage.trap.times_laps()) stage.budget_s *= options.length_mm / options.base_mm;
  if (track.shape == TrackShape::shuttle) {
    stage.clear_below_mm = track.gates.front().position_mm - engine.length_mm;
    stage.clear_above_mm = track.length_mm - track.gates.back().position_mm;
  }
  return stage;
}

double smph_mm_s(const simulated::EngineDescription& engine) { return model_mm_s(1, SpeedUnit::mph, engine.ratio); }

std::vector<StepAim> slow_freight(const simulated::EngineDescription& engine) {
  const double unit_mm_s = smph_mm_s(engine);
  std::vector<StepAim> aims;
  for (int step = 1; step <= 28; ++step) {
    const double smph = 1 + 17.0 * (step - 1) / 27;
    aims.push_back(StepAim{step, smph * unit_mm_s, std::max(0.1, 0.02 * smph) * unit_mm_s, true});
  }
  return aims;
}

TuneOrder make_order(const Stage& stage, const simulated::Decoder& decoder) {
  TuneOrder order;
  order.aims = slow_freight(stage.engine);
  order.track = simulated::as_told(stage.railway);
  order.trap = stage.trap;
  order.budget_s = stage.budget_s;
  order.patience = stage.patience;
  order.clear_below_mm = stage.clear_below_mm;
  order.clear_above_mm = stage.clear_above_mm;
  for (const int number : {cv::acceleration, cv::deceleration, cv::consist_address, cv::acceleration_adjustment,
                           cv::deceleration_adjustment, cv::configuration, cv::kick_start}) {
    order.known_cvs[number] = decoder.cv(number);
  }
  return order;
}

simulated::Reference reference(const Stage& stage, const simulated::Track& track) {
  const auto place = [&track](int gate) { return track.gates_mm()[static_cast<std::size_t>(gate)]; };
  const double from_mm = place(stage.trap.low_gate);
  if (stage.trap.times_laps()) return simulated::Reference{from_mm, from_mm + track.length_mm()};
  return simulated::Reference{from_mm, place(stage.trap.high_gate)};
}

}  // namespace lapwright::bench
