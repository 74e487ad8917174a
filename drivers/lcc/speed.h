// Speeds of LCC's train control: half-precision metres per second, and the values that give an exact decoder step.
#pragma once

#include <cstdint>

#include "tuning/throttle.h"

namespace lapwright::lcc {

/// IEEE 754 half precision, nearest value, ties away from zero; the sign is the direction, also of zero (Train Control
/// Standard 4.3). @param speed_m_s  0 … 65504
[[nodiscard]] std::uint16_t half(double speed_m_s, Direction direction);

/// A half-precision speed. `valid` is false for what is not a number: unknown.
struct HalfSpeed {
  double speed_m_s = 0;
  Direction direction = Direction::forward;
  bool valid = true;
};
[[nodiscard]] HalfSpeed from_half(std::uint16_t bits);

/// Which speed a station takes for which step; the Standard leaves it open, the technical note proposes one scale mile
/// an hour for each step of 126.
struct StepLaw {
  double mph_per_step = 1;  ///< of 126; those of 28 steps are 4.5 times as wide
};

/// The speed to send for a step. It lies a quarter of a step above the step's own: stations that round and stations
/// that cut off both find the step. Step 0 is ±0.
[[nodiscard]] std::uint16_t speed_of_step(const ThrottleCommand& command, const StepLaw& law);

}  // namespace lapwright::lcc
