#include "tests/bench/requirements.h"

#include <algorithm>
#include <cstdio>

#include "tests/bench/numbers.h"

namespace lapwright::bench {
namespace {

constexpr double hundred = 100;

using Runs = std::vector<RunResult>;

/// Engines whose decoders are regulated and whose targets are all attainable.
Runs capable(const Runs& runs) {
  Runs chosen = of_group(runs, "regulated");
  std::erase_if(chosen, [](const RunResult& run) { return run.attainable < 28; });
  return chosen;
}

double share_true(const Judged& total) {
  return total.proved == 0 ? 0 : hundred * (1 - static_cast<double>(total.false_accepts) / total.proved);
}

void add_times(const Runs& runs, const std::string& who, double middle, double high, double worst,
               std::vector<Requirement>& list) {
  const Sums sums = sum_up(runs, lapwright_name);
  if (sums.ratios.empty()) return;
  list.push_back({who + ": track time over the lower bound, median", median(sums.ratios), middle});
  list.push_back({who + ": track time over the lower bound, 90th percentile", quantile(sums.ratios, 0.9), high});
  list.push_back({who + ": track time over the lower bound, worst", quantile(sums.ratios, 1), worst});
}

void add_accuracy(const Runs& runs, const std::string& strategy, std::vector<Requirement>& list) {
  const Sums regulated = sum_up(of_group(runs, "regulated"), strategy);
  const Sums all = sum_up(runs, strategy);
  if (regulated.runs > 0) {
    list.push_back({strategy + ": regulated steps called proved that are truly in tolerance, %",
                    share_true(regulated.total), 99.5, false});
    list.push_back({strategy + ": regulated steps called proved beyond 1.25 × tolerance",
                    static_cast<double>(regulated.total.far_false_accepts), 0});
  }
  if (all.runs > 0) {
    list.push_back(
        {strategy + ": all steps called proved that are truly in tolerance, %", share_true(all.total), 98.5, false});
    list.push_back({strategy + ": tunes that did not reach their end", static_cast<double>(all.incomplete), 0});
  }
}

void add_poor_stamps(const Runs& runs, std::vector<Requirement>& list) {
  const std::vector<double> longer = time_ratios(runs, jitter_name, lapwright_name);
  if (!longer.empty()) {
    list.push_back({"5 ms stamps: more track time, % (median)", hundred * (median(longer) - 1), 10});
  }
  const Sums faults = sum_up(runs, faults_name);
  if (!faults.ratios.empty()) {
    list.push_back({"3 % missed and 5 % doubled edges: track time over the lower bound, 90th percentile",
                    quantile(faults.ratios, 0.9), 2.5});
    add_accuracy(runs, faults_name, list);
  }
}

void add_verdicts(const Runs& runs, std::vector<Requirement>& list) {
  const Sums regulated = sum_up(of_group(runs, "regulated"), lapwright_name);
  const Sums all = sum_up(runs, lapwright_name);
  if (regulated.runs > 0) {
    list.push_back({"regulated: truly attainable steps that are proved, %",
                    hundred * regulated.total.attainable_proved / std::max(regulated.attainable, 1), hundred, false});
  }
  if (all.runs > 0) {
    list.push_back({"best-attainable verdicts more than 1 value from the true optimum",
                    static_cast<double>(all.total.best_off), 0});
    list.push_back({"CPU of a whole tune, simulation included, worst, s", all.total.cpu_s, 0.5});
    list.push_back({"peak memory of a tune, worst, MB", all.total.peak_mb, 30});
  }
}

}  // namespace

std::vector<Requirement> requirements(const std::vector<RunResult>& runs) {
  std::vector<Requirement> list;
  add_times(capable(runs), "regulated, attainable", 1.5, 1.9, 2.5, list);
  add_times(runs, "all engines", 1.7, 2.5, 3.0, list);
  const std::vector<double> hand = time_ratios(runs, by_hand_name, lapwright_name);
  if (!hand.empty()) list.push_back({"by-hand practice over Lapwright, track time, median", median(hand), 15, false});
  add_accuracy(runs, lapwright_name, list);
  add_poor_stamps(runs, list);
  add_verdicts(runs, list);
  return list;
}

bool print_requirements(const std::vector<Requirement>& list) {
  bool good = true;
  for (const Requirement& item : list) {
    good = good && item.passed();
    std::printf("%-4s %8.2f  (needed: %s %.5g)  %s\n", item.passed() ? "pass" : "FAIL", item.reached,
                item.at_most ? "≤" : "≥", item.limit, item.text.c_str());
  }
  return good;
}

}  // namespace lapwright::bench
