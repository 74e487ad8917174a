// What one strategy reached on one engine, judged by the truth: the numbers that travel from worker to table.
#pragma once

#include <cstdint>
#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tuning/tune.h"

namespace lapwright::bench {

/// One step in one direction as a strategy left it.
struct CellClaim {
  int step = 0;
  Direction direction = Direction::forward;
  Verdict verdict = Verdict::not_measured;
};

/// What a strategy did and claims; the truth is not in it.
struct Outcome {
  bool complete = true;
  std::string detail;
  double track_s = 0;
  int passes = 0;
  int writes = 0;
  std::vector<CellClaim> claims;
};

/// An outcome held against the truth. Errors count in tolerances, over cells called proved.
struct Judged {
  bool complete = true;
  std::string detail;
  double track_s = 0;
  int passes = 0;
  int writes = 0;
  int proved = 0;
  int best_attainable = 0;
  int marginal = 0;
  int failed = 0;  ///< not measured counts as failed
  double worst_error = 0;
  double square_sum = 0;
  int false_accepts = 0;      ///< called proved and truly out of tolerance
  int far_false_accepts = 0;  ///< beyond 1.25 × tolerance
  int attainable_proved = 0;  ///< steps that are attainable and were proved in both directions
  int best_off = 0;           ///< best-attainable cells more than 1 value from the best for the trims chosen
  int best_in_tolerance = 0;  ///< best-attainable cells that are truly in tolerance
  double cpu_s = 0;
  double peak_mb = 0;
  std::vector<std::string> misses;  ///< for people: false accepts and attainable steps not proved
};

/// Everything of one engine and seed.
struct RunResult {
  std::string engine;
  std::string group;
  std::uint64_t seed = 0;
  double base_time_s = 0;  ///< closed form: base over wanted speed, summed over steps and directions
  int attainable = 0;      ///< steps of 28
  double run_up_s = 0;     ///< of the oracle at the top step
  std::string best_settings;
  std::map<std::string, Judged> strategies;
};

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Judged, complete, detail, track_s, passes, writes, proved, best_attainable, marginal,
                                   failed, worst_error, square_sum, false_accepts, far_false_accepts, attainable_proved,
                                   best_off, best_in_tolerance, cpu_s, peak_mb, misses)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(RunResult, engine, group, seed, base_time_s, attainable, run_up_s, best_settings,
                                   strategies)

// Names of strategies and of Lapwright's variants.
inline constexpr const char* lapwright_name = "lapwright";
inline constexpr const char* oracle_name = "oracle";
inline constexpr const char* by_hand_name = "by-hand";
inline constexpr const char* bisection_name = "bisection";
inline constexpr const char* jitter_name = "lapwright, 5 ms stamps";
inline constexpr const char* faults_name = "lapwright, 3 % missed, 5 % doubled";

}  // namespace lapwright::bench
