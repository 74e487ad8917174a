#include "drivers/lcc/speed.h"

#include <algorithm>
#include <cmath>

namespace lapwright::lcc {
namespace {

constexpr double m_s_per_mph = 0.44704;  // exact: a mile of 1609.344 m
constexpr unsigned sign_bit = 0x8000;
constexpr unsigned not_finite = 0x7C00;
constexpr unsigned largest = 0x7BFF;
constexpr int mantissa_bits = 10;
constexpr int bias = 15;
constexpr double offset_steps = 0.25;
constexpr double steps_126_per_28 = 126.0 / 28.0;

}  // namespace

std::uint16_t half(double speed_m_s, Direction direction) {
  const double speed = std::max(speed_m_s, 0.0);
  int exponent = 0;
  (void)std::frexp(speed, &exponent);  // speed = fraction × 2^exponent, fraction 0.5 … 1
  // Below 2^-14 the steps stay 2^-24. A mantissa that rounds up to 2 carries into the exponent by itself.
  const int scale = speed > 0 ? std::max(exponent - 1, 1 - bias) : 1 - bias;
  const auto mantissa = static_cast<unsigned>(std::lround(std::ldexp(speed, mantissa_bits - scale)));
  const auto exponent_field = static_cast<unsigned>(scale + bias - 1) << mantissa_bits;
  const unsigned bits = std::min(exponent_field + mantissa, largest);
  return static_cast<std::uint16_t>(bits | (direction == Direction::reverse ? sign_bit : 0U));
}

HalfSpeed from_half(std::uint16_t bits) {
  HalfSpeed result;
  result.direction = (bits & sign_bit) != 0 ? Direction::reverse : Direction::forward;
  result.valid = (bits & not_finite) != not_finite;
  const unsigned exponent = (bits & not_finite) >> mantissa_bits;
  const unsigned mantissa = bits & ((1U << mantissa_bits) - 1);
  if (!result.valid) return result;
  result.speed_m_s =
      exponent == 0 ? std::ldexp(mantissa, 1 - bias - mantissa_bits)
                    : std::ldexp((1U << mantissa_bits) + mantissa, static_cast<int>(exponent) - bias - mantissa_bits);
  return result;
}

std::uint16_t speed_of_step(const ThrottleCommand& command, const StepLaw& law) {
  if (command.step == 0) return half(0, command.direction);
  const double steps = command.step + offset_steps;
  const double of_126 = command.mode == StepMode::steps28 ? steps * steps_126_per_28 : steps;
  return half(of_126 * law.mph_per_step * m_s_per_mph, command.direction);
}

}  // namespace lapwright::lcc
