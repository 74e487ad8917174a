#include "tests/schedules/schedule.h"

#include <algorithm>
#include <array>
#include <cstdio>
#include <string>

#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/random.h"
#include "tuning/cv.h"
#include "tuning/scale.h"
#include "tuning/trap_choice.h"

namespace lapwright::schedules {
namespace {

constexpr std::array lent = {
    cv::acceleration, cv::deceleration, cv::consist_address, cv::acceleration_adjustment, cv::deceleration_adjustment,
    cv::kick_start};
constexpr int reply_bit = 0x08;  // of CV29: replies are sent

double log_uniform(simulated::Random& luck, double from, double to) {
  return from * std::pow(to / from, luck.uniform());
}

/// Small and fast, so that a minute of it holds a whole search, some probes and passes.
TargetSheet trial_sheet() {
  TargetSheet sheet;
  sheet.name = "Works trial";
  sheet.points = {SheetPoint{10, 25.0}, SheetPoint{19, 45.0}, SheetPoint{28, 60.0}};
  return sheet;
}

void set_up_engine(Schedule& schedule, simulated::Random& luck) {
  static const simulated::EngineDescription rowan =
      simulated::load_engine(std::string(LAPWRIGHT_CONFIGS) + "/works/rowan_engine.json");
  schedule.engine = rowan;
  schedule.decoder_answers = luck.chance(0.4);
  auto& cvs = schedule.engine.decoder.cvs;
  schedule.engine.decoder.answers_reads = schedule.decoder_answers;
  if (schedule.decoder_answers) cvs[cv::configuration] = static_cast<std::uint8_t>(cvs[cv::configuration] | reply_bit);
  for (const int number : lent) {
    if (luck.chance(0.6)) cvs[number] = static_cast<std::uint8_t>(1 + luck.uniform(0, 30));
  }
}

void set_up_job(Schedule& schedule, simulated::Random& luck) {
  Job& job = schedule.job;
  job.record.name = schedule.engine.name;
  job.record.address = schedule.engine.address;
  const simulated::Decoder decoder(schedule.engine.addressed_decoder());
  const bool told = !schedule.decoder_answers || luck.chance(0.5);
  for (const int number : lent) {
    if (told) job.record.cvs[number] = decoder.cv(number);
  }
  TuneOrder& order = job.order;
  order.track = simulated::as_told(schedule.railway);
  const TrapWish no_wish;
  order.trap = choose_trap(order.track, SpeedOver::trap, no_wish);
  const TargetSheet sheet = trial_sheet();
  for (const StepTarget& target : expand(sheet)) {
    const bool wanted = target.step == 10 || target.step == 19 || target.step == 28;
    order.aims.push_back({target.step, model_mm_s(target.speed, sheet.unit, schedule.engine.ratio),
                          model_mm_s(2.5, sheet.unit, schedule.engine.ratio), wanted});
  }
  order.known_cvs = job.record.cvs;
}

/// Mostly while the engine is being found and measured, often while its decoder is prepared, at times before power.
double instant(simulated::Random& luck) {
  if (luck.chance(0.05)) return 0;
  if (luck.chance(0.25)) return luck.uniform(0, 3);
  return luck.uniform(3, luck.chance(0.2) ? 90 : 25);
}

/// What shows only after a while, or together with something that gives it the time to.
void plan_slow_one(Schedule& schedule, simulated::Random& luck) {
  schedule.faults.clear();
  const double at_s = luck.uniform(6, 20);
  const int gate = luck.chance(0.5) ? 1 : 0;
  schedule.stop_s = at_s + luck.uniform(0, 2);
  const double which = luck.uniform();
  if (which < 0.7) schedule.faults.push_back({Kind::station_slow, at_s - luck.uniform(0, 1), 60, 0});
  if (which < 0.35) {
    schedule.faults.push_back({Kind::hand, at_s, 60, gate});
  } else if (which < 0.7) {
    schedule.faults.push_back({Kind::stop_ignored, at_s, 60, gate});
  } else {
    const bool stalls = which < 0.92;
    schedule.faults.push_back({stalls ? Kind::motor_stalled : Kind::engine_lifted, at_s, 120, 0});
    schedule.stop_s = at_s + (stalls ? 50 : 110);
  }
}

}  // namespace

const Fault* Schedule::has(Kind kind) const {
  const auto is_it = [&](const Fault& fault) { return fault.kind == kind; };
  const auto found = std::find_if(faults.begin(), faults.end(), is_it);
  return found == faults.end() ? nullptr : &*found;
}

Schedule drawn(std::uint64_t seed) {
  simulated::Random luck(seed * 7919 + 11);
  Schedule schedule;
  schedule.seed = seed;
  schedule.railway.name = "Works loop";
  schedule.railway.length_mm = 1000;
  schedule.railway.gates = {Gate{"west", 400, 0.2}, Gate{"east", 550, 0.2}};
  schedule.railway.start_mm = luck.uniform(150, 350);
  set_up_engine(schedule, luck);
  set_up_job(schedule, luck);
  if (luck.chance(0.1)) schedule.writes_per_cv = 3 + static_cast<int>(luck.uniform(0, 12));
  schedule.top_voltage_left = luck.chance(0.05);

  const int count = 1 + static_cast<int>(luck.uniform(0, 3));
  double last_s = 0;
  while (static_cast<int>(schedule.faults.size()) < count) {
    const Kind kind = static_cast<Kind>(static_cast<int>(luck.uniform(0, kinds)));
    if (schedule.has(kind) != nullptr) continue;
    Fault fault{kind, instant(luck), log_uniform(luck, 0.05, 40), luck.chance(0.5) ? 1 : 0};
    if (kind == Kind::engine_lifted) fault.lasts_s += 0.5;  // longer than a write takes
    last_s = std::max(last_s, fault.at_s);
    schedule.faults.push_back(fault);
  }
  schedule.stop_s = last_s + (luck.chance(0.06) ? luck.uniform(30, 120) : luck.uniform(0.3, 8));
  for (Fault& fault : schedule.faults) {  // on the way out, while what was lent is written back
    if (luck.chance(0.2)) fault.at_s = std::max(0.0, schedule.stop_s + luck.uniform(-0.5, 1.0));
  }
  if (luck.chance(0.07)) plan_slow_one(schedule, luck);
  std::ranges::sort(schedule.faults, {}, &Fault::at_s);
  return schedule;
}

std::string in_words(const Schedule& schedule) {
  char head[200];
  std::snprintf(head, sizeof head, "seed %llu, the decoder %s; %d writes for each CV%s; an orderly stop at %.3f s",
                static_cast<unsigned long long>(schedule.seed), schedule.decoder_answers ? "answers" : "is silent",
                schedule.writes_per_cv, schedule.top_voltage_left ? ", none for CV5" : "", schedule.stop_s);
  std::string text = head;
  for (const Fault& fault : schedule.faults) text += "\n    " + in_words(fault);
  return text;
}

}  // namespace lapwright::schedules
