// The rule about track current: a pure function of the readings and their times.
#pragma once

#include <deque>
#include <optional>

#include "drivers/safety/stop_reason.h"
#include "tuning/clock.h"

namespace lapwright {

/// More than sensors are off by: what flows through a dead track beyond it is a fault.
inline constexpr double dead_track_mA = 30;
/// What to look at then, for people.
inline constexpr const char* dead_track_advice =
    "look whether the relay is welded, something else feeds the track, or the sensor is out of order";

/// From the configuration; for H0 where it says nothing.
struct CurrentLimits {
  double peak_mA = 2000;
  double peak_s = 0.3;    ///< how long the current may stay above `peak_mA`
  double mean_mA = 1000;  ///< of the last minute; time without readings counts as without current
};

/// What one engine of a scale may draw, peak and mean, where nobody has said otherwise: common practice, no source.
/// @param ratio  87.1 for H0
[[nodiscard]] CurrentLimits usual_limits(double ratio);

class CurrentWatch {
 public:
  explicit CurrentWatch(const CurrentLimits& limits) : limits_(limits) {}
  /// One reading in mA. A stop when a limit is exceeded.
  [[nodiscard]] std::optional<Stop> feed(Instant now, double current_mA);
  [[nodiscard]] double mean_mA() const { return charge_mAs_ / window_s; }

  static constexpr double window_s = 60;

 private:
  struct Reading {
    Instant at;
    double charge_mAs = 0;  ///< since the reading before
  };
  CurrentLimits limits_;
  std::deque<Reading> readings_;
  double charge_mAs_ = 0;
  std::optional<Instant> above_since_;
};

}  // namespace lapwright
