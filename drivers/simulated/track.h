// The rails as they really lie: where the gates truly are and how much the track drags at each place.
#pragma once

#include <cmath>
#include <cstdint>
#include <vector>

#include "drivers/simulated/railway_description.h"

namespace lapwright::simulated {

/// Drawn once from the description and a seed; it does not change afterwards.
class Track {
 public:
  Track(const RailwayDescription& railway, std::uint64_t seed);

  [[nodiscard]] bool is_loop() const { return loop_; }
  [[nodiscard]] double length_mm() const { return length_mm_; }
  /// True positions in mm, in the order of the description.
  [[nodiscard]] const std::vector<double>& gates_mm() const { return gates_mm_; }
  /// A place counted on over laps, within the first.
  [[nodiscard]] double on_the_loop_mm(double at_mm) const {
    return at_mm - length_mm_ * std::floor(at_mm / length_mm_);
  }
  /// Friction at a place as a multiple of straight level track. Positions may count on over many laps.
  [[nodiscard]] double drag(double at_mm) const {
    double cell = at_mm * cells_per_mm_;
    const double laps = static_cast<double>(static_cast<std::int64_t>(cell * per_lap_) - (cell < 0 ? 1 : 0));
    cell -= laps * cells_;
    const auto place = static_cast<std::size_t>(cell);
    const double share = cell - static_cast<double>(place);
    return drag_[place] + share * (drag_[place + 1] - drag_[place]);
  }

 private:
  void lay(const Stretch& stretch);

  bool loop_;
  double length_mm_;
  double cells_ = 0;
  double cells_per_mm_ = 0;
  double per_lap_ = 0;
  std::vector<double> gates_mm_;
  std::vector<double> drag_;  ///< at the borders of the cells, with two more for rounding
};

}  // namespace lapwright::simulated
