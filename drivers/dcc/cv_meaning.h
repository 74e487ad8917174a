// What the numbers in standard CVs mean: momentum, trims, PWM period, configuration bits, consist (NMRA S-9.2.2).
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/dcc/address.h"

namespace lapwright::dcc {

/// CV3 with CV23, or CV4 with CV24: the adjustment is signed by its bit 7; the sum is kept within 0 … 255.
[[nodiscard]] int momentum_value(std::uint8_t rate, std::uint8_t adjustment);
/// Seconds per speed step, rate · 0.896 / steps in use (S-9.2.2 l. 57-61); 0: no momentum.
[[nodiscard]] double momentum_s_per_step(std::uint8_t rate, std::uint8_t adjustment, int steps_in_use);

/// Factor of CV66 or CV95, n/128; 0 means that the trim is not used, which is a factor of 1 (S-9.2.2 l. 272-275).
[[nodiscard]] double trim_factor(std::uint8_t trim);

/// Total PWM period of CV9 in µs, (131 + mantissa · 4) · 2^exponent (S-9.2.2 l. 87-93).
[[nodiscard]] int pwm_period_us(std::uint8_t cv9);

/// Packet time-out of CV11 in s; empty: switched off. The unit is not in the standard: seconds is our reading.
[[nodiscard]] std::optional<double> packet_time_out_s(std::uint8_t cv11);

/// CV29 taken apart (S-9.2.2 l. 214-233).
struct Configuration {
  bool direction_reversed = false;  ///< bit 0
  bool steps_28 = true;             ///< bit 1; otherwise bit 4 of the speed byte is FL and 14 steps are left
  bool analog_allowed = false;      ///< bit 2
  bool bidirectional = false;       ///< bit 3
  bool speed_table = false;         ///< bit 4
  bool long_address = false;        ///< bit 5
  bool accessory = false;           ///< bit 7; the other bits then mean other things
  bool operator==(const Configuration&) const = default;
};
[[nodiscard]] Configuration read_configuration(std::uint8_t cv29);
[[nodiscard]] std::uint8_t to_cv29(const Configuration& configuration);

/// Membership of a consist (S-9.2.2 l. 137-140; RCN-225 for CV20).
struct Consist {
  VehicleAddress address;
  bool reversed = false;
  bool operator==(const Consist&) const = default;
};
/// Empty when not in a consist. CV20 = 0: a short address; otherwise CV20 · 100 + CV19, a long one.
[[nodiscard]] std::optional<Consist> read_consist(std::uint8_t cv19, std::uint8_t cv20);

}  // namespace lapwright::dcc
