#include "tests/bench/numbers.h"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace lapwright::bench {
namespace {

constexpr double unfinished_ratio = 99;  // a tune that broke off is no quick one

}  // namespace

double quantile(std::vector<double> sample, double share) {
  if (sample.empty()) return 0;
  std::ranges::sort(sample);
  const double rank = std::ceil(share * static_cast<double>(sample.size()) - 1e-9);
  return sample[static_cast<std::size_t>(std::clamp(rank, 1.0, static_cast<double>(sample.size()))) - 1];
}

double median(std::vector<double> sample) {
  if (sample.empty()) return 0;
  std::ranges::sort(sample);
  const std::size_t middle = sample.size() / 2;
  return sample.size() % 2 == 1 ? sample[middle] : 0.5 * (sample[middle - 1] + sample[middle]);
}

Sums sum_up(const std::vector<RunResult>& runs, const std::string& strategy) {
  Sums sums;
  for (const RunResult& run : runs) {
    const auto found = run.strategies.find(strategy);
    if (found == run.strategies.end()) continue;
    const Judged& one = found->second;
    ++sums.runs;
    if (!one.complete) ++sums.incomplete;
    sums.track_s.push_back(one.track_s);
    sums.passes.push_back(one.passes);
    sums.writes.push_back(one.writes);
    sums.attainable += run.attainable;
    Judged& total = sums.total;
    total.proved += one.proved;
    total.best_attainable += one.best_attainable;
    total.marginal += one.marginal;
    total.failed += one.failed;
    total.worst_error = std::max(total.worst_error, one.worst_error);
    total.square_sum += one.square_sum;
    total.false_accepts += one.false_accepts;
    total.far_false_accepts += one.far_false_accepts;
    total.attainable_proved += one.attainable_proved;
    total.best_off += one.best_off;
    total.best_in_tolerance += one.best_in_tolerance;
    total.cpu_s = std::max(total.cpu_s, one.cpu_s);
    total.peak_mb = std::max(total.peak_mb, one.peak_mb);
  }
  sums.ratios = time_ratios(runs, strategy, oracle_name);
  return sums;
}

std::vector<double> time_ratios(const std::vector<RunResult>& runs, const std::string& strategy,
                                const std::string& other) {
  std::vector<double> ratios;
  for (const RunResult& run : runs) {
    const auto above = run.strategies.find(strategy);
    const auto below = run.strategies.find(other);
    if (above == run.strategies.end() || below == run.strategies.end()) continue;
    if (!below->second.complete || below->second.track_s <= 0) continue;
    ratios.push_back(above->second.complete ? above->second.track_s / below->second.track_s : unfinished_ratio);
  }
  return ratios;
}

std::vector<RunResult> of_group(const std::vector<RunResult>& runs, const std::string& group) {
  std::vector<RunResult> chosen;
  std::ranges::copy_if(runs, std::back_inserter(chosen), [&](const RunResult& run) { return run.group == group; });
  return chosen;
}

std::vector<RunResult> of_engine(const std::vector<RunResult>& runs, const std::string& engine) {
  std::vector<RunResult> chosen;
  std::ranges::copy_if(runs, std::back_inserter(chosen), [&](const RunResult& run) { return run.engine == engine; });
  return chosen;
}

}  // namespace lapwright::bench
