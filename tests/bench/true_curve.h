// The engine's true steady speed over its drive levels, sampled once and filled in between.
#pragma once

#include <array>
#include <vector>

#include "drivers/simulated/truth.h"
#include "tuning/drive.h"

namespace lapwright::bench {

/// By commanded direction (a decoder may turn the motor the other way). Exact at the sampled levels, a monotone curve
/// between them.
class TrueCurve {
 public:
  /// @param top_mm_s  the fastest speed of interest; levels beyond it are not looked at
  TrueCurve(simulated::Truth& truth, int levels, bool inverted, double top_mm_s);

  [[nodiscard]] int levels() const { return levels_; }
  /// In mm/s; 0 where the engine stalls; a very large speed beyond the speeds of interest.
  [[nodiscard]] double speed_mm_s(int level, Direction direction) const {
    const std::vector<double>& speeds = speeds_mm_s_[index(direction)];
    const auto place = static_cast<std::size_t>(level);
    return place < speeds.size() ? speeds[place] : beyond_mm_s;
  }

 private:
  static constexpr double beyond_mm_s = 1e6;
  [[nodiscard]] std::vector<double> sample(simulated::Truth& truth, Direction moves, double top_mm_s) const;

  int levels_;
  std::array<std::vector<double>, 2> speeds_mm_s_;
};

}  // namespace lapwright::bench
