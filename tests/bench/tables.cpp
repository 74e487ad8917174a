#include "tests/bench/tables.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tests/bench/numbers.h"

namespace lapwright::bench {
namespace {

constexpr const char* strategy_order[] = {oracle_name, lapwright_name, jitter_name,
                                          faults_name, by_hand_name,   bisection_name};

void print_heading() {
  std::printf("  %-36s %8s  %-17s %6s %6s  %-21s %-12s %-11s %-9s %-11s %-9s %s\n", "", "track s", "ratio med p90 max",
              "passes", "writes", "proved best marg fail", "error max/rms", "false >1.25", "attain'bl", "best: off/in",
              "cpu s/MB", "unfinished");
}

void print_strategy(const std::vector<RunResult>& runs, const char* strategy) {
  const Sums sums = sum_up(runs, strategy);
  if (sums.runs == 0) return;
  const Judged& total = sums.total;
  const double rms = total.proved == 0 ? 0 : std::sqrt(total.square_sum / total.proved);
  std::printf("  %-36s %8.0f  ", strategy, median(sums.track_s));
  if (sums.ratios.empty()) {
    std::printf("%-17s", "-");
  } else {
    std::printf("%5.2f %5.2f %5.2f", median(sums.ratios), quantile(sums.ratios, 0.9), quantile(sums.ratios, 1));
  }
  std::printf(" %6.0f %6.0f  %6d %4d %4d %4d  %5.2f / %4.2f  %4d %6d  %4d/%-4d %5d/%-5d %5.2f/%-4.0f %d\n",
              median(sums.passes), median(sums.writes), total.proved, total.best_attainable, total.marginal,
              total.failed, total.worst_error, rms, total.false_accepts, total.far_false_accepts,
              total.attainable_proved, sums.attainable, total.best_off, total.best_in_tolerance, total.cpu_s,
              total.peak_mb, sums.incomplete);
}

void print_set(const std::string& title, const std::vector<RunResult>& runs) {
  if (runs.empty()) return;
  std::printf("%s\n", title.c_str());
  for (const char* strategy : strategy_order) print_strategy(runs, strategy);
  const std::vector<double> hand = time_ratios(runs, by_hand_name, lapwright_name);
  if (!hand.empty()) std::printf("  by hand takes %.1f × Lapwright's time (median)\n", median(hand));
  std::printf("\n");
}

std::vector<std::string> engines_of(const std::vector<RunResult>& runs) {
  std::vector<std::string> names;
  for (const RunResult& run : runs) {
    if (std::ranges::count(names, run.engine) == 0) names.push_back(run.engine);
  }
  return names;
}

std::string engine_title(const std::vector<RunResult>& runs) {
  std::vector<double> run_ups;
  for (const RunResult& run : runs) run_ups.push_back(run.run_up_s);
  char text[240];
  std::snprintf(text, sizeof text, "%s (%s), %zu seeds; base / speed over all steps %.0f s, oracle's run-up %.2f s, %s",
                runs.front().engine.c_str(), runs.front().group.c_str(), runs.size(), runs.front().base_time_s,
                median(run_ups), runs.front().best_settings.c_str());
  return text;
}

}  // namespace

void print_tables(const std::vector<RunResult>& runs) {
  print_heading();
  for (const std::string& engine : engines_of(runs)) {
    const std::vector<RunResult> own = of_engine(runs, engine);
    print_set(engine_title(own), own);
  }
  for (const char* group : {"regulated", "open_loop", "coarse"}) {
    print_set(std::string("GROUP ") + group, of_group(runs, group));
  }
  print_set("ALL", runs);
}

void print_misses(const std::vector<RunResult>& runs) {
  for (const RunResult& run : runs) {
    for (const auto& [name, judged] : run.strategies) {
      if (!name.starts_with(lapwright_name)) continue;
      const char* head = name == lapwright_name ? "" : name.c_str() + sizeof("lapwright");
      const auto seed = static_cast<unsigned long long>(run.seed);
      if (!judged.complete) {
        std::printf("%s seed %llu%s: unfinished: %s\n", run.engine.c_str(), seed, head, judged.detail.c_str());
      }
      if (name != lapwright_name) continue;
      for (const std::string& miss : judged.misses)
        std::printf("%s seed %llu: %s\n", run.engine.c_str(), seed, miss.c_str());
    }
  }
}

}  // namespace lapwright::bench
