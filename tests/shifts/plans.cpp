#include "tests/shifts/plans.h"

#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/random.h"
#include "tuning/scale.h"
#include "tuning/trap_choice.h"

#if defined(__SANITIZE_ADDRESS__)
#define LAPWRIGHT_SLOW_RUN 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define LAPWRIGHT_SLOW_RUN 1
#endif
#endif

namespace lapwright::shifts {
namespace {

constexpr double first_gate_mm = 1000;
constexpr double base_mm = 150;
constexpr double shuttle_mm = 3000;
constexpr double small_loop_mm = 1200;

void finish_plan(Plan& plan, SpeedOver over) {
  simulated::Random luck(plan.seed * 977 + 5);
  plan.railway.start_mm = plan.railway.gates.front().position_mm - luck.uniform(400, 600);
  plan.order.track = simulated::as_told(plan.railway);
  const TrapWish no_wish;
  plan.order.trap = choose_trap(plan.order.track, over, no_wish);
  plan.order.aims = aims_of(slow_freight(), plan.engine.ratio);
  tell_record(plan, {cv::acceleration, cv::deceleration, cv::consist_address, cv::acceleration_adjustment,
                     cv::deceleration_adjustment, cv::configuration, cv::kick_start});
}

}  // namespace

simulated::EngineDescription from_shed(const std::string& file) {
  return simulated::load_engine(std::string(LAPWRIGHT_CONFIGS) + "/engines/" + file + ".json");
}

simulated::EngineDescription plain_engine() {
  simulated::EngineDescription engine;
  engine.name = "Peat Cutter";
  engine.address = 21;
  engine.decoder.cvs = {{cv::acceleration, 9}, {cv::deceleration, 7}, {cv::configuration, 0x12}};
  return engine;
}

std::vector<StepAim> aims_of(const TargetSheet& sheet, double ratio) {
  std::vector<StepAim> aims;
  for (const StepTarget& target : expand(sheet)) {
    aims.push_back(StepAim{target.step, model_mm_s(target.speed, sheet.unit, ratio),
                           model_mm_s(target.tolerance, sheet.unit, ratio), target.prove});
  }
  return aims;
}

TargetSheet slow_freight() {
  TargetSheet sheet;
  sheet.name = "Slow freight";
  sheet.points = {SheetPoint{1, 1.0}, SheetPoint{28, 18.0}};
  return sheet;
}

Plan loop_night(const simulated::EngineDescription& engine, std::uint64_t seed) {
  Plan plan;
  plan.engine = engine;
  plan.seed = seed;
  plan.railway.gates = {Gate{"west", first_gate_mm, 0.2}, Gate{"east", first_gate_mm + base_mm, 0.2}};
  finish_plan(plan, SpeedOver::trap);
  return plan;
}

Plan shuttle_night(const simulated::EngineDescription& engine, std::uint64_t seed) {
  Plan plan;
  plan.engine = engine;
  plan.seed = seed;
  plan.railway.shape = TrackShape::shuttle;
  plan.railway.length_mm = shuttle_mm;
  const double west_mm = 0.5 * (shuttle_mm - base_mm);
  plan.railway.gates = {Gate{"west", west_mm, 0.2}, Gate{"east", west_mm + base_mm, 0.2}};
  finish_plan(plan, SpeedOver::trap);
  plan.order.clear_below_mm = west_mm - engine.length_mm;
  plan.order.clear_above_mm = shuttle_mm - west_mm - base_mm;
  return plan;
}

Plan lap_night(const simulated::EngineDescription& engine, std::uint64_t seed) {
  Plan plan;
  plan.engine = engine;
  plan.seed = seed;
  plan.railway.length_mm = small_loop_mm;
  plan.railway.gates = {Gate{"signal", 700, 0.2}};
  finish_plan(plan, SpeedOver::lap);
  return plan;
}

void tell_record(Plan& plan, std::initializer_list<int> cvs) {
  const simulated::Decoder decoder(plan.engine.addressed_decoder());
  plan.order.known_cvs.clear();
  for (const int number : cvs) plan.order.known_cvs[number] = decoder.cv(number);
}

bool slow_run() {
#ifdef LAPWRIGHT_SLOW_RUN
  return true;
#else
  return false;
#endif
}

std::vector<std::uint64_t> seeds(std::uint64_t first, int count) {
  if (slow_run()) count = 1;
  std::vector<std::uint64_t> result;
  for (int i = 0; i < count; ++i) result.push_back(first + static_cast<std::uint64_t>(i));
  return result;
}

}  // namespace lapwright::shifts
