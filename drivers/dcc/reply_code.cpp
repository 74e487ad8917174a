#include "drivers/dcc/reply_code.h"

#include <algorithm>
#include <bit>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

// RCN-217 Table 2; all have four ones.
constexpr std::array<std::uint8_t, 64> codes{
    0xAC, 0xAA, 0xA9, 0xA5, 0xA3, 0xA6, 0x9C, 0x9A, 0x99, 0x95, 0x93, 0x96, 0x8E, 0x8D, 0x8B, 0xB1,
    0xB2, 0xB4, 0xB8, 0x74, 0x72, 0x6C, 0x6A, 0x69, 0x65, 0x63, 0x66, 0x5C, 0x5A, 0x59, 0x55, 0x53,
    0x56, 0x4E, 0x4D, 0x4B, 0x47, 0x71, 0xE8, 0xE4, 0xE2, 0xD1, 0xC9, 0xC5, 0xD8, 0xD4, 0xD2, 0xCA,
    0xC6, 0xCC, 0x78, 0x17, 0x1B, 0x1D, 0x1E, 0x2E, 0x36, 0x3A, 0x27, 0x2B, 0x2D, 0x35, 0x39, 0x33};

constexpr int cv_reply_identifier = 0;
constexpr int xpom_identifier = 8;  // 8 … 11 by sequence number

int limited(const char* what, int value, int top) {
  if (value < 0 || value > top) {
    throw std::out_of_range(std::string(what) + " " + std::to_string(value) + " lies outside 0 … " +
                            std::to_string(top));
  }
  return value;
}

}  // namespace

std::uint8_t encode_symbol(std::uint8_t value) {
  return codes[static_cast<std::size_t>(limited("value for the 4-of-8 code", value, 63))];
}

ReplySymbol decode_symbol(std::uint8_t wire) {
  using Kind = ReplySymbol::Kind;
  if (std::popcount(wire) != 4) return {Kind::damaged, 0};
  if (wire == wire_ack || wire == 0x0F) return {Kind::acknowledged, 0};
  if (wire == wire_nack) return {Kind::not_acknowledged, 0};
  if (wire == 0xE1) return {Kind::busy, 0};
  const auto found = std::ranges::find(codes, wire);
  if (found == codes.end()) return {Kind::reserved, 0};
  return {Kind::data, static_cast<std::uint8_t>(found - codes.begin())};
}

std::array<std::uint8_t, 2> encode_datagram(int identifier, std::uint8_t data) {
  const int first = (limited("datagram identifier", identifier, 15) << 2) | (data >> 6);
  return {encode_symbol(static_cast<std::uint8_t>(first)), encode_symbol(data & 0x3F)};
}

std::array<std::uint8_t, channel_2_size> encode_cv_reply(std::uint8_t value) {
  const auto datagram = encode_datagram(cv_reply_identifier, value);
  return {datagram[0], datagram[1], wire_ack, wire_ack, wire_ack, wire_ack};
}

std::optional<std::uint8_t> decode_cv_reply(std::span<const std::uint8_t> wire) {
  if (wire.size() < 2) return std::nullopt;
  const ReplySymbol high = decode_symbol(wire[0]);
  const ReplySymbol low = decode_symbol(wire[1]);
  if (high.kind != ReplySymbol::Kind::data || low.kind != ReplySymbol::Kind::data) return std::nullopt;
  if (high.value >> 2 != cv_reply_identifier) return std::nullopt;
  return static_cast<std::uint8_t>((high.value << 6) | low.value);
}

std::array<std::uint8_t, channel_2_size> encode_xpom_reply(int sequence, const std::array<std::uint8_t, 4>& cvs) {
  const int identifier = xpom_identifier + limited("XPOM sequence number", sequence, 3);
  std::uint64_t bits = static_cast<std::uint64_t>(identifier);
  for (const std::uint8_t cv : cvs) bits = (bits << 8) | cv;
  std::array<std::uint8_t, channel_2_size> result{};
  for (std::size_t at = 0; at < result.size(); ++at) {
    result[at] = encode_symbol(static_cast<std::uint8_t>((bits >> (30 - 6 * at)) & 0x3F));
  }
  return result;
}

AddressBroadcast encode_address(VehicleAddress address) {
  const int high = address.is_long() ? 0x80 | (address.number() >> 8) : 0;
  const int low = address.number() & 0xFF;
  return {encode_datagram(1, static_cast<std::uint8_t>(high)), encode_datagram(2, static_cast<std::uint8_t>(low))};
}

}  // namespace lapwright::dcc
