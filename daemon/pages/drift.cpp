#include "daemon/pages/drift.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <cmath>

#include "daemon/wording.h"

namespace lapwright {
namespace {

bool has_speeds(const EarlierTune& earlier) {
  return std::any_of(earlier.speeds.begin(), earlier.speeds.end(), [](const auto& each) {
    return each.second.forward_mm_s.has_value() || each.second.reverse_mm_s.has_value();
  });
}

void add_drift(std::vector<StepDrift>& drifts, const StepResult& step, Direction direction,
               const std::optional<double>& then_mm_s) {
  const std::optional<CellResult>& cell = direction == Direction::forward ? step.forward : step.reverse;
  if (!then_mm_s || !cell || cell->passes == 0) return;
  drifts.push_back({step.step, direction, *then_mm_s, cell->speed_mm_s, step.tolerance_mm_s});
}

/// Of the speed: a share, so that a fast step does not outweigh all the slow ones.
double mean_share(const std::vector<StepDrift>& drifts) {
  double sum = 0;
  int counted = 0;
  for (const StepDrift& drift : drifts) {
    if (drift.then_mm_s <= 0) continue;
    sum += drift.change_mm_s() / drift.then_mm_s;
    ++counted;
  }
  return counted == 0 ? 0 : sum / counted;
}

}  // namespace

bool StepDrift::beyond_tolerance() const { return std::abs(change_mm_s()) > tolerance_mm_s; }

const EarlierTune* last_measured(const std::vector<EarlierTune>& history) {
  const auto is_tune = [](const EarlierTune& each) { return each.work == "tune" && has_speeds(each); };
  auto found = std::find_if(history.rbegin(), history.rend(), is_tune);
  if (found == history.rend()) found = std::find_if(history.rbegin(), history.rend(), has_speeds);
  return found == history.rend() ? nullptr : &*found;
}

std::vector<StepDrift> drift_since(const EarlierTune& earlier, const std::vector<StepResult>& now) {
  std::vector<StepDrift> drifts;
  for (const StepResult& step : now) {
    const auto then = earlier.speeds.find(step.step);
    if (then == earlier.speeds.end()) continue;
    add_drift(drifts, step, Direction::forward, then->second.forward_mm_s);
    add_drift(drifts, step, Direction::reverse, then->second.reverse_mm_s);
  }
  return drifts;
}

std::string drift_sentence(const std::vector<StepDrift>& drifts, SpeedUnit unit, double ratio) {
  if (drifts.empty()) return "No step was measured both times.";
  const double percent = mean_share(drifts) * 100;
  const std::string mean = std::abs(percent) < 0.05 ? std::string("On average as fast as then")
                                                    : fmt::format("On average {:.1f} % {}", std::abs(percent),
                                                                  percent > 0 ? "faster" : "slower");
  const auto smaller = [](const StepDrift& a, const StepDrift& b) {
    return std::abs(a.change_mm_s()) < std::abs(b.change_mm_s());
  };
  const StepDrift& largest = *std::max_element(drifts.begin(), drifts.end(), smaller);
  const auto beyond =
      std::count_if(drifts.begin(), drifts.end(), [](const auto& each) { return each.beyond_tolerance(); });
  return fmt::format(
      "{}; the largest change is {:+.2f} {} (step {}, {}); {} of {} readings {} changed by more than {} "
      "tolerance.",
      mean, scale_speed(largest.change_mm_s(), unit, ratio), scale_unit(unit), largest.step,
      largest.direction == Direction::forward ? "forward" : "reverse", beyond, drifts.size(),
      beyond == 1 ? "has" : "have", beyond == 1 ? "its" : "their");
}

}  // namespace lapwright
