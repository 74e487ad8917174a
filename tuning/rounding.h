// How a decoder divides its drive: the motor gets whole steps of a few thousandths, rounded or cut off.
#pragma once

#include <cmath>

namespace lapwright {

struct Rounding {
  double step = 0;    ///< counts of 1/255 of full drive; 0: too fine to be noticed
  bool down = false;  ///< cut off to the whole step below instead of rounded to the nearest

  [[nodiscard]] bool noticeable() const { return step > 0; }
  /// Drive of the whole step that the decoder makes of a drive, counts.
  [[nodiscard]] double operator()(double drive) const {
    constexpr double digits_lost = 1e-9;  // a product of settings that is a whole step stays one
    return noticeable() ? std::floor(drive / step + (down ? digits_lost : 0.5)) * step : drive;
  }
  [[nodiscard]] bool operator==(const Rounding&) const = default;
};

}  // namespace lapwright
