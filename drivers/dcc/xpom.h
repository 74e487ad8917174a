// XPOM: operations-mode access to four CVs at once by 24-bit address (NMRA S-9.2.1 §2.3.7.4, RCN-217 §5.6).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"

namespace lapwright::dcc {

/// A CV behind an index page: the values of CV31 and CV32 and the place in the page. Page (0,0) is CV 1 … 256.
struct XpomAddress {
  std::uint8_t cv31 = 0;
  std::uint8_t cv32 = 0;
  std::uint8_t place = 0;  ///< low eight bits of the CV number minus 1
  bool operator==(const XpomAddress&) const = default;
};

/// Address of CV 1 … 1024 in its page (RCN-225). Throws std::out_of_range.
[[nodiscard]] XpomAddress xpom_address(int cv);

struct XpomRead {
  int sequence = 0;  ///< 0 … 3; 0 without a bidirectional channel
  XpomAddress at;
  bool operator==(const XpomRead&) const = default;
};

struct XpomWrite {
  int sequence = 0;
  XpomAddress at;
  std::array<std::uint8_t, 4> values{};
  std::size_t count = 1;  ///< 1 … 4 values
  bool operator==(const XpomWrite&) const = default;
};

struct XpomBitWrite {
  int sequence = 0;
  XpomAddress at;
  int bit = 0;
  bool value = false;
  bool operator==(const XpomBitWrite&) const = default;
};

/// All throw std::out_of_range for a sequence outside 0 … 3, a bit outside 0 … 7, or other than one to four values.
[[nodiscard]] Packet xpom_read(VehicleAddress to, int sequence, XpomAddress at);
[[nodiscard]] Packet xpom_write(VehicleAddress to, int sequence, XpomAddress at, std::span<const std::uint8_t> values);
[[nodiscard]] Packet xpom_write_bit(VehicleAddress to, int sequence, XpomAddress at, int bit, bool value);

/// The instruction behind the address bytes, without error byte; empty when it is of another form or length.
[[nodiscard]] std::optional<XpomRead> decode_xpom_read(std::span<const std::uint8_t> instruction);
[[nodiscard]] std::optional<XpomWrite> decode_xpom_write(std::span<const std::uint8_t> instruction);
[[nodiscard]] std::optional<XpomBitWrite> decode_xpom_bit(std::span<const std::uint8_t> instruction);

}  // namespace lapwright::dcc
