// How late a change of speed takes effect: learnt from where the engine really was when a gate saw it.
#pragma once

#include <algorithm>
#include <cmath>

namespace lapwright {

/// Momentum, flywheel and the station's refresh together act about as if each command came this much later. A Kalman
/// filter of one state, so that a way that is hardly known teaches little (its gain is the usual one, see R. E. Kalman,
/// A New Approach to Linear Filtering and Prediction Problems, 1960).
class TurnLag {
 public:
  [[nodiscard]] double s() const { return lag_s_; }
  [[nodiscard]] double sd_s() const { return sd_s_; }

  /// A gate saw the engine.
  /// @param late_mm      how far before the gate it was when reckoning had it there already, negative: early
  /// @param change_mm_s  by which its speed was changed since a gate last saw it, positive: towards this gate
  /// @param elsewhere_mm standard deviation of the reckoning for all other reasons
  void learn(double late_mm, double change_mm_s, double elsewhere_mm) {
    if (change_mm_s == 0) return;
    const double way_sd_s = elsewhere_mm / std::abs(change_mm_s);
    const double gain = sd_s_ * sd_s_ / (sd_s_ * sd_s_ + way_sd_s * way_sd_s);
    lag_s_ = std::clamp(lag_s_ + gain * late_mm / change_mm_s, shortest_s, longest_s);
    sd_s_ = std::hypot(sd_s_ * std::sqrt(1 - gain), wander_s);
  }

 private:
  static constexpr double shortest_s = 0.02;
  static constexpr double longest_s = 1.0;
  static constexpr double wander_s = 0.01;  ///< from one time to the next: speeds and warmth differ

  double lag_s_ = 0.15;
  double sd_s_ = 0.1;
};

}  // namespace lapwright
