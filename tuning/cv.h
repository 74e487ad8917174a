// Names of the configuration variables that tuning touches (NMRA S-9.2.2) and the arithmetic of their encodings.
#pragma once

#include <cstdint>

namespace lapwright::cv {

inline constexpr int address = 1;
inline constexpr int start_voltage = 2;
inline constexpr int acceleration = 3;
inline constexpr int deceleration = 4;
inline constexpr int top_voltage = 5;
inline constexpr int mid_voltage = 6;
inline constexpr int maker_version = 7;
inline constexpr int maker_id = 8;
inline constexpr int long_address_high = 17;
inline constexpr int long_address_low = 18;
inline constexpr int consist_address = 19;
inline constexpr int consist_functions_1_8 = 21;
inline constexpr int consist_functions_0_9_12 = 22;
inline constexpr int acceleration_adjustment = 23;
inline constexpr int deceleration_adjustment = 24;
inline constexpr int configuration = 29;
inline constexpr int index_high = 31;
inline constexpr int index_low = 32;
inline constexpr int kick_start = 65;
inline constexpr int forward_trim = 66;
inline constexpr int reverse_trim = 95;

inline constexpr int table_entries = 28;
inline constexpr int table_bit = 4;  ///< of CV29: the speed table is in use

inline constexpr int address_bit = 5;  ///< of CV29: the long address is in use

/// CV1, and CV17 with CV18: what only a restore touches.
[[nodiscard]] constexpr bool is_address(int number) {
  return number == address || number == long_address_high || number == long_address_low;
}

/// A value of CV29 for a decoder that is to go on with the address that it has.
[[nodiscard]] constexpr std::uint8_t with_address_bit(std::uint8_t value, bool long_address) {
  constexpr unsigned mask = 1U << address_bit;
  return static_cast<std::uint8_t>(long_address ? value | mask : value & ~mask);
}

/// CV of table entry 1 … 28: CV67 … CV94.
[[nodiscard]] constexpr int table_entry(int entry) { return 66 + entry; }

}  // namespace lapwright::cv
