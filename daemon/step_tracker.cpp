#include "daemon/step_tracker.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/wording.h"

namespace lapwright {

std::optional<StepResult> StepTracker::settled(const CellResult& cell, const TargetSheet& sheet) {
  Known& known = steps_[cell.step];
  (cell.direction == Direction::forward ? known.forward : known.reverse) = cell;
  if (!known.forward || !known.reverse) return std::nullopt;
  StepResult step = by_step({*known.forward, *known.reverse}, sheet).front();
  if (known.told == step.verdict()) return std::nullopt;
  known.told = step.verdict();
  return step;
}

std::string step_line(const StepResult& step, SpeedUnit unit, double ratio, std::string_view plus_minus) {
  const auto in_unit = [&](double speed_mm_s) { return scale_speed(speed_mm_s, unit, ratio); };
  const auto reading = [&](const std::optional<CellResult>& cell) {
    if (!cell || cell->passes == 0) return fmt::format("{:>5} {:6}", "-", "");
    return fmt::format("{:>5.2f} {}{:.2f}", in_unit(cell->speed_mm_s), plus_minus, in_unit(cell->half_width_mm_s));
  };
  std::string label = fmt::format("step {:>3}", step.step);
  if (!step.notch.empty()) label += fmt::format(" (notch {})", step.notch);
  return fmt::format("{} {:>7.2f} {}   forward {}   reverse {}   {}", label, in_unit(step.target_mm_s),
                     scale_unit(unit), reading(step.forward), reading(step.reverse), word(step.verdict()));
}

}  // namespace lapwright
