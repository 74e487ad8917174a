// What the person at the bench asked for on the command line.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tuning/tune.h"

namespace lapwright::bench {

enum class Layout : std::uint8_t { pair, shuttle, single_gate, three_gates };

struct Options {
  std::string engines = "configs/engines";
  std::string engine;  ///< only the one with this name or file name; empty: all
  std::vector<std::uint64_t> seeds = {11, 12, 13, 14, 15};
  std::string json;  ///< file for all numbers; empty: none
  Layout layout = Layout::pair;
  double length_mm = 6000;
  double base_mm = 150;
  double jitter_s = 0.00005;
  double miss = 0;
  double twin = 0;
  std::vector<std::string> strategies = {"lapwright", "oracle", "by-hand", "bisection"};
  bool variants = true;    ///< also 5 ms stamps, and missed and doubled edges
  double budget_s = 5400;  ///< of track time for one tune, so that a runaway costs little; far above every limit
  double patience = TuneOrder{}.patience;  ///< of Lapwright's tunes
  int workers = 2;

  [[nodiscard]] bool wants(const std::string& strategy) const;
};

/// Ends the program with status 0 after --help, with 2 and what is wrong after a bad command line.
[[nodiscard]] Options parse_options(const std::vector<std::string>& words);

}  // namespace lapwright::bench
