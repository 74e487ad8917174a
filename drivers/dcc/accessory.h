// Packets for turnouts and signals: basic and extended accessory decoders (NMRA S-9.2.1 §2.4).
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "drivers/dcc/packet.h"

namespace lapwright::dcc {

/// One output of a basic accessory decoder.
struct BasicAccessory {
  int address = 0;        ///< the eleven bits on the track, 0 … 2047; not the user's number
  bool activate = true;   ///< D
  bool straight = false;  ///< R: straight, right, proceed; otherwise diverging, left, stop
  bool operator==(const BasicAccessory&) const = default;
};

/// A signal aspect.
struct ExtendedAccessory {
  int address = 0;          ///< the eleven bits on the track, 0 … 2047
  std::uint8_t aspect = 0;  ///< 0: absolute stop
  bool operator==(const ExtendedAccessory&) const = default;
};

/// User's number 1 … 2048 to the bits on the track, linear convention (S-9.2.1 l. 609-620). Throws std::out_of_range.
[[nodiscard]] int accessory_address(int user_number);
/// The way back.
[[nodiscard]] int accessory_user_number(int address);

/// Both throw std::out_of_range for an address outside 0 … 2047.
[[nodiscard]] Packet accessory(BasicAccessory order);
[[nodiscard]] Packet accessory(ExtendedAccessory order);

/// A complete packet of the accessory partition; empty when it is of another form.
[[nodiscard]] std::optional<BasicAccessory> decode_basic_accessory(std::span<const std::uint8_t> packet);
[[nodiscard]] std::optional<ExtendedAccessory> decode_extended_accessory(std::span<const std::uint8_t> packet);

}  // namespace lapwright::dcc
