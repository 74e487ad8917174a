// The speeds that the throttle's steps are expected to give at present, for getting about between measurements.
#pragma once

#include <vector>

#include "tuning/throttle.h"

namespace lapwright {

/// Expected speeds of the throttle's steps in mm/s, by direction; 0 where a step is not usable (unknown, or it stalls).
class SpeedBook {
 public:
  explicit SpeedBook(StepMode mode) : speeds_mm_s_(2 * static_cast<std::size_t>(top_step(mode) + 1), 0.0) {}
  void set(int step, Direction direction, double mm_s) { speeds_mm_s_[place(step, direction)] = mm_s; }
  [[nodiscard]] double get(int step, Direction direction) const { return speeds_mm_s_[place(step, direction)]; }
  [[nodiscard]] int top() const { return static_cast<int>(speeds_mm_s_.size() / 2) - 1; }
  /// The fastest usable step that is not faster than wished; the slowest usable one if all are; 0 if none is usable.
  [[nodiscard]] int step_near(double wish_mm_s, Direction direction) const;

 private:
  [[nodiscard]] static std::size_t place(int step, Direction direction) {
    return 2 * static_cast<std::size_t>(step) + (direction == Direction::forward ? 0 : 1);
  }
  std::vector<double> speeds_mm_s_;
};

}  // namespace lapwright
