// Decides when a step is worth a line: both directions have a verdict, and it is not the one told before.
#pragma once

#include <map>
#include <optional>

#include "daemon/step_results.h"

namespace lapwright {

class StepTracker {
 public:
  /// The step, if it is to be told now.
  [[nodiscard]] std::optional<StepResult> settled(const CellResult& cell, const TargetSheet& sheet);
  void clear() { *this = StepTracker(); }

 private:
  struct Known {
    std::optional<CellResult> forward;
    std::optional<CellResult> reverse;
    std::optional<Verdict> told;
  };
  std::map<int, Known> steps_;
};

/// "step 14   9.19 smph   forward 9.18 ±0.03   reverse 9.21 ±0.03   proved"; `plus_minus` is "±" or "+-".
[[nodiscard]] std::string step_line(const StepResult& step, SpeedUnit unit, double ratio, std::string_view plus_minus);

}  // namespace lapwright
