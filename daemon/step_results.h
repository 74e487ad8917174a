// Results by step: both directions of one step side by side, with one verdict for the step.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tuning/target_sheet.h"
#include "tuning/tune.h"

namespace lapwright {

struct StepResult {
  int step = 0;
  std::string notch;
  double target_mm_s = 0;
  double tolerance_mm_s = 0;
  std::optional<CellResult> forward;
  std::optional<CellResult> reverse;
  [[nodiscard]] Verdict verdict() const;      ///< the worse of the two
  [[nodiscard]] Shortfall shortfall() const;  ///< of the worse of the two
};

/// Steps that were to be proved, rising.
[[nodiscard]] std::vector<StepResult> by_step(const std::vector<CellResult>& cells, const TargetSheet& sheet);

struct VerdictCounts {
  int steps = 0;
  int proved = 0;
  int best_attainable = 0;
  int marginal = 0;
  int failed = 0;
  int not_measured = 0;
};
[[nodiscard]] VerdictCounts count(const std::vector<StepResult>& steps);

}  // namespace lapwright
