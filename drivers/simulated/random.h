// Random numbers that are the same on every compiler: the simulated railway replays from a seed.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>

namespace lapwright::simulated {

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014). The distributions of <random> differ between libraries; these do not.
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}

  std::uint64_t next() {
    state_ += 0x9E3779B97F4A7C15ULL;
    std::uint64_t mixed = state_;
    mixed = (mixed ^ (mixed >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    mixed = (mixed ^ (mixed >> 27U)) * 0x94D049BB133111EBULL;
    return mixed ^ (mixed >> 31U);
  }
  /// Uniform in [0, 1).
  double uniform() { return static_cast<double>(next() >> 11U) * 0x1.0p-53; }
  double uniform(double from, double to) { return from + (to - from) * uniform(); }
  bool chance(double probability) { return uniform() < probability; }
  /// Standard normal, by Box and Muller.
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * std::numbers::pi * uniform());
  }
  /// Exponential with mean 1.
  double exponential() { return -std::log(1.0 - uniform()); }
  /// An independent stream, so that one consumer's draws never shift another's.
  Random fork() { return Random(next()); }

 private:
  std::uint64_t state_;
};

}  // namespace lapwright::simulated
