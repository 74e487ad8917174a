#include "drivers/dcc/cv_meaning.h"

#include <algorithm>

namespace lapwright::dcc {

int momentum_value(std::uint8_t rate, std::uint8_t adjustment) {
  const int magnitude = adjustment & 0x7F;
  return std::clamp((adjustment & 0x80) != 0 ? rate - magnitude : rate + magnitude, 0, 255);
}

double momentum_s_per_step(std::uint8_t rate, std::uint8_t adjustment, int steps_in_use) {
  return momentum_value(rate, adjustment) * 0.896 / steps_in_use;
}

double trim_factor(std::uint8_t trim) { return trim == 0 ? 1.0 : trim / 128.0; }

int pwm_period_us(std::uint8_t cv9) { return (131 + (cv9 & 0x1F) * 4) << (cv9 >> 5); }

std::optional<double> packet_time_out_s(std::uint8_t cv11) {
  if (cv11 == 0) return std::nullopt;
  return cv11;
}

Configuration read_configuration(std::uint8_t cv29) {
  const auto bit = [cv29](int place) { return ((cv29 >> place) & 1) != 0; };
  return {.direction_reversed = bit(0),
          .steps_28 = bit(1),
          .analog_allowed = bit(2),
          .bidirectional = bit(3),
          .speed_table = bit(4),
          .long_address = bit(5),
          .accessory = bit(7)};
}

std::uint8_t to_cv29(const Configuration& configuration) {
  const auto bit = [](bool set, int place) { return (set ? 1 : 0) << place; };
  return static_cast<std::uint8_t>(bit(configuration.direction_reversed, 0) | bit(configuration.steps_28, 1) |
                                   bit(configuration.analog_allowed, 2) | bit(configuration.bidirectional, 3) |
                                   bit(configuration.speed_table, 4) | bit(configuration.long_address, 5) |
                                   bit(configuration.accessory, 7));
}

std::optional<Consist> read_consist(std::uint8_t cv19, std::uint8_t cv20) {
  const int low = cv19 & 0x7F;
  const int hundreds = cv20 & 0x7F;  // bit 7 marks the lead unit
  const bool reversed = (cv19 & 0x80) != 0;
  if (hundreds == 0) {
    if (low == 0) return std::nullopt;
    return Consist{VehicleAddress::short_form(low), reversed};
  }
  const int number = hundreds * 100 + low;
  if (number > VehicleAddress::top_long) return std::nullopt;
  return Consist{VehicleAddress::long_form(number), reversed};
}

}  // namespace lapwright::dcc
