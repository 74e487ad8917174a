#include "tests/bench/judge.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tuning/cv.h"

namespace lapwright::bench {
namespace {

constexpr double far_share = 1.25;
constexpr double as_good = 0.02;  // of tolerance: two values that differ less are equally good

ThrottleCommand command(int step, Direction direction) { return ThrottleCommand{step, direction, StepMode::steps28}; }

DriveSettings held(const simulated::Decoder& decoder) {
  DriveSettings settings;
  settings.start_voltage = decoder.cv(cv::start_voltage);
  settings.top_voltage = decoder.cv(cv::top_voltage) > 1 ? decoder.cv(cv::top_voltage) : 255;
  const auto trim = [&decoder](int number) { return decoder.cv(number) == 0 ? 128 : decoder.cv(number); };
  settings.trim = {trim(cv::forward_trim), trim(cv::reverse_trim)};
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    settings.table[static_cast<std::size_t>(entry - 1)] = decoder.cv(cv::table_entry(entry));
  }
  return settings;
}

/// More than one value from the best one, and clearly worse.
bool off_the_best(const Bench& bench, const DriveSettings& settings, std::size_t place) {
  const StepAim& aim = bench.aims[place];
  const int value = settings.table[place];
  const BestValue best = best_value(bench.law, bench.curve, settings, aim);
  const double error = error_share(bench.law, bench.curve, settings, aim, value);
  return std::abs(value - best.value) > 1 && error > best.error + as_good;
}

std::string describe(const CellClaim& claim, const char* what, double error) {
  char text[120];
  std::snprintf(text, sizeof text, "step %d %s %s, error %.2f tolerances", claim.step,
                claim.direction == Direction::forward ? "forward" : "reverse", what, error);
  return text;
}

void count(const CellClaim& claim, double error, bool off, Judged& judged) {
  switch (claim.verdict) {
    case Verdict::proved:
      ++judged.proved;
      judged.worst_error = std::max(judged.worst_error, error);
      judged.square_sum += error * error;
      if (error <= 1) break;
      ++judged.false_accepts;
      if (error > far_share) ++judged.far_false_accepts;
      judged.misses.push_back(describe(claim, "called proved", error));
      break;
    case Verdict::best_attainable:
      ++judged.best_attainable;
      if (off) ++judged.best_off;
      if (error <= 1) ++judged.best_in_tolerance;
      if (off) judged.misses.push_back(describe(claim, "called best attainable, and a better value exists", error));
      break;
    case Verdict::marginal:
      ++judged.marginal;
      break;
    case Verdict::failed:
    case Verdict::not_measured:
      ++judged.failed;
      break;
  }
}

}  // namespace

simulated::Decoder plain(const simulated::Decoder& decoder) {
  simulated::Decoder copy = decoder;
  copy.set_cv(cv::consist_address, 0);
  return copy;
}

void install(simulated::Decoder& decoder, const DriveSettings& settings) {
  const auto put = [&decoder](int number, int value) { decoder.set_cv(number, static_cast<std::uint8_t>(value)); };
  for (const int number : {cv::acceleration, cv::deceleration, cv::acceleration_adjustment, cv::deceleration_adjustment,
                           cv::kick_start, cv::consist_address}) {
    put(number, 0);
  }
  put(cv::start_voltage, settings.start_voltage);
  put(cv::top_voltage, settings.top_voltage);
  put(cv::forward_trim, settings.trim[0]);
  put(cv::reverse_trim, settings.trim[1]);
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    put(cv::table_entry(entry), settings.table[static_cast<std::size_t>(entry - 1)]);
  }
  put(cv::configuration, decoder.cv(cv::configuration) | 1 << cv::table_bit | 2);
}

std::array<bool, cv::table_entries> attainable_steps(const std::vector<StepAim>& aims, simulated::Truth& truth,
                                                     const simulated::Decoder& decoder, const BestSettings& best) {
  simulated::Decoder tuned = plain(decoder);
  install(tuned, best.settings);
  std::array<bool, cv::table_entries> result{};
  for (const StepAim& aim : aims) {
    const auto error = [&](Direction direction) {
      return std::abs(truth.speed_mm_s(tuned, command(aim.step, direction)) - aim.speed_mm_s) / aim.tolerance_mm_s;
    };
    result[static_cast<std::size_t>(aim.step - 1)] = error(Direction::forward) <= 1 && error(Direction::reverse) <= 1;
  }
  return result;
}

Judged judge(const Bench& bench, const simulated::Decoder& decoder, const Outcome& outcome) {
  const simulated::Decoder tuned = plain(decoder);
  const DriveSettings settings = held(tuned);
  Judged judged;
  judged.complete = outcome.complete;
  judged.detail = outcome.detail;
  judged.track_s = outcome.track_s;
  judged.passes = outcome.passes;
  judged.writes = outcome.writes;
  std::array<int, cv::table_entries> proved_directions{};
  for (const CellClaim& claim : outcome.claims) {
    const auto place = static_cast<std::size_t>(claim.step - 1);
    const StepAim& aim = bench.aims[place];
    const double speed = bench.truth.speed_mm_s(tuned, command(claim.step, claim.direction));
    const double error = std::abs(speed - aim.speed_mm_s) / aim.tolerance_mm_s;
    count(claim, error, claim.verdict == Verdict::best_attainable && off_the_best(bench, settings, place), judged);
    if (claim.verdict == Verdict::proved) ++proved_directions[place];
    const bool missed = claim.verdict != Verdict::proved && bench.attainable[place];
    if (missed) judged.misses.push_back(describe(claim, "attainable and not proved", error));
  }
  for (std::size_t place = 0; place < proved_directions.size(); ++place) {
    if (bench.attainable[place] && proved_directions[place] == 2) ++judged.attainable_proved;
  }
  return judged;
}

}  // namespace lapwright::bench
