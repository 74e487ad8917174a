#include "daemon/step_results.h"

#include <map>

namespace lapwright {
namespace {

constexpr int badness(Verdict verdict) {
  switch (verdict) {
    case Verdict::proved:
      return 0;
    case Verdict::best_attainable:
      return 1;
    case Verdict::marginal:
      return 2;
    case Verdict::not_measured:
      return 3;
    case Verdict::failed:
      return 4;
  }
  return 4;
}

Verdict verdict_of(const std::optional<CellResult>& cell) { return cell ? cell->verdict : Verdict::not_measured; }

const std::optional<CellResult>& worse(const StepResult& step) {
  return badness(verdict_of(step.reverse)) > badness(verdict_of(step.forward)) ? step.reverse : step.forward;
}

}  // namespace

Verdict StepResult::verdict() const { return verdict_of(worse(*this)); }

Shortfall StepResult::shortfall() const {
  const std::optional<CellResult>& cell = worse(*this);
  return cell ? cell->shortfall : Shortfall::none;
}

std::vector<StepResult> by_step(const std::vector<CellResult>& cells, const TargetSheet& sheet) {
  std::map<int, StepResult> steps;
  for (const CellResult& cell : cells) {
    StepResult& step = steps[cell.step];
    step.step = cell.step;
    step.target_mm_s = cell.target_mm_s;
    step.tolerance_mm_s = cell.tolerance_mm_s;
    (cell.direction == Direction::forward ? step.forward : step.reverse) = cell;
  }
  for (const SheetPoint& point : sheet.points) {
    if (const auto found = steps.find(point.step); found != steps.end()) found->second.notch = point.notch;
  }
  std::vector<StepResult> result;
  result.reserve(steps.size());
  for (auto& [number, step] : steps) result.push_back(std::move(step));
  return result;
}

VerdictCounts count(const std::vector<StepResult>& steps) {
  VerdictCounts counts;
  for (const StepResult& step : steps) {
    const Verdict verdict = step.verdict();
    ++counts.steps;
    counts.proved += verdict == Verdict::proved;
    counts.best_attainable += verdict == Verdict::best_attainable;
    counts.marginal += verdict == Verdict::marginal;
    counts.failed += verdict == Verdict::failed;
    counts.not_measured += verdict == Verdict::not_measured;
  }
  return counts;
}

}  // namespace lapwright
