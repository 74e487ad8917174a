// One axis of a chart: a straight scale from values to places on the drawing, with ticks at round values.
#pragma once

#include <string>
#include <vector>

namespace lapwright {

/// 1, 2 or 5 times a power of ten, so that about `wanted` of them fill the span. @param span  above 0
[[nodiscard]] double nice_step(double span, int wanted);

class ChartAxis {
 public:
  /// @param from  where `low` stands on the drawing @param to  where `high` stands
  ChartAxis(double low, double high, double from, double to) : low_(low), high_(high), from_(from), to_(to) {}

  [[nodiscard]] double low() const { return low_; }
  [[nodiscard]] double high() const { return high_; }
  [[nodiscard]] double at(double value) const { return from_ + (value - low_) / (high_ - low_) * (to_ - from_); }
  /// Round values from low to high. @param wanted  about how many
  [[nodiscard]] std::vector<double> ticks(int wanted) const;
  /// A tick's value with as many decimals as its neighbours need.
  [[nodiscard]] std::string label(double tick, int wanted) const;

 private:
  double low_, high_, from_, to_;
};

/// Step numbers to be written below a chart: round ones, the first, and the top one where it has room.
[[nodiscard]] std::vector<int> step_ticks(int top_step);

}  // namespace lapwright
