// Function packets: whole groups of functions switched at once (NMRA S-9.2.1 §2.3.4-2.3.6).
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"

namespace lapwright::dcc {

/// Every packet of a group sets all functions of that group.
enum class FunctionGroup : std::uint8_t {
  f0_f4,  ///< F0 is FL, the headlight
  f5_f8,
  f9_f12,
  f13_f20,
  f21_f28,
  f29_f36,
  f37_f44,
  f45_f52,
  f53_f60,
  f61_f68,
};

inline constexpr int function_count = 69;  ///< F0 … F68

[[nodiscard]] int first_function(FunctionGroup group);
[[nodiscard]] int functions_in(FunctionGroup group);

/// New state of one group; bit 0 is the group's first function, also of F0-F4 whose bits stand otherwise on the track.
struct FunctionOrder {
  FunctionGroup group = FunctionGroup::f0_f4;
  std::uint8_t on = 0;
  bool operator==(const FunctionOrder&) const = default;
};

/// Throws std::out_of_range when `on` has bits beyond the group.
[[nodiscard]] Packet functions(VehicleAddress to, FunctionGroup group, std::uint8_t on);

/// A one-byte group (F0 … F12) from its instruction byte, or empty.
[[nodiscard]] std::optional<FunctionOrder> decode_functions(std::uint8_t instruction);
/// A two-byte group (F13 and above) from its instruction and data bytes, or empty.
[[nodiscard]] std::optional<FunctionOrder> decode_functions(std::uint8_t instruction, std::uint8_t data);

}  // namespace lapwright::dcc
