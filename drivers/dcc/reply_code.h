// Replies on the bidirectional channel: the 4-of-8 code and the answers to CV access (RCN-217, NMRA S-9.3.2).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "drivers/dcc/address.h"

namespace lapwright::dcc {

/// What one byte on the wire means.
struct ReplySymbol {
  enum class Kind : std::uint8_t {
    data,              ///< six bits in `value`
    acknowledged,      ///< F0, and 0F, which the edition of 2012 had as NACK: it never proves a failure
    not_acknowledged,  ///< 3C
    busy,              ///< E1, in the edition of 2012 only: ask again
    reserved,          ///< a legal byte without a meaning
    damaged,           ///< not four ones: a transmission error
  };
  Kind kind = Kind::damaged;
  std::uint8_t value = 0;
  bool operator==(const ReplySymbol&) const = default;
};

inline constexpr std::uint8_t wire_ack = 0xF0;
inline constexpr std::uint8_t wire_nack = 0x3C;
inline constexpr std::size_t channel_2_size = 6;  ///< bytes

/// Wire byte for a value of six bits (RCN-217 Table 2). Throws std::out_of_range above 63.
[[nodiscard]] std::uint8_t encode_symbol(std::uint8_t value);
[[nodiscard]] ReplySymbol decode_symbol(std::uint8_t wire);

/// A 12-bit datagram: identifier of four bits and eight data bits. Throws std::out_of_range for an identifier above 15.
[[nodiscard]] std::array<std::uint8_t, 2> encode_datagram(int identifier, std::uint8_t data);
/// The whole channel 2 answering CV access: datagram 0 with the CV's value, filled with ACK (RCN-217 §5.1).
[[nodiscard]] std::array<std::uint8_t, channel_2_size> encode_cv_reply(std::uint8_t value);
/// The CV's value in a channel 2; empty when it holds none, is damaged, or holds another datagram.
[[nodiscard]] std::optional<std::uint8_t> decode_cv_reply(std::span<const std::uint8_t> wire);

/// XPOM reply: four CVs under sequence number 0 … 3 (RCN-217 §5.6). Throws std::out_of_range.
[[nodiscard]] std::array<std::uint8_t, channel_2_size> encode_xpom_reply(int sequence,
                                                                         const std::array<std::uint8_t, 4>& cvs);

/// The two alternating channel 1 datagrams with a vehicle's active address (RCN-217 Table 11).
struct AddressBroadcast {
  std::array<std::uint8_t, 2> first;
  std::array<std::uint8_t, 2> second;
};
[[nodiscard]] AddressBroadcast encode_address(VehicleAddress address);

}  // namespace lapwright::dcc
