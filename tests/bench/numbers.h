// Medians and quantiles of small samples, and sums over many runs.
#pragma once

#include <string>
#include <vector>

#include "tests/bench/outcome.h"

namespace lapwright::bench {

/// The smallest value that at least this share of the sample does not exceed; 0 of an empty sample. The median of an
/// even sample is the mean of the middle two.
[[nodiscard]] double quantile(std::vector<double> sample, double share);
[[nodiscard]] double median(std::vector<double> sample);

/// One strategy over a set of runs.
struct Sums {
  int runs = 0;
  int incomplete = 0;
  std::vector<double> track_s;
  std::vector<double> ratios;  ///< to the oracle of the same run
  std::vector<double> passes;
  std::vector<double> writes;
  Judged total;  ///< counts summed, worst and peak as maxima, cpu_s the largest
  int attainable = 0;
};

[[nodiscard]] Sums sum_up(const std::vector<RunResult>& runs, const std::string& strategy);
/// Track time of one strategy over another's, run by run; 99 where the one broke off, nothing where the other did.
[[nodiscard]] std::vector<double> time_ratios(const std::vector<RunResult>& runs, const std::string& strategy,
                                              const std::string& other);
[[nodiscard]] std::vector<RunResult> of_group(const std::vector<RunResult>& runs, const std::string& group);
[[nodiscard]] std::vector<RunResult> of_engine(const std::vector<RunResult>& runs, const std::string& engine);

}  // namespace lapwright::bench
