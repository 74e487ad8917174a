#include "drivers/dcc/packet.h"

#include <algorithm>
#include <bit>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {

Packet::Packet(std::initializer_list<std::span<const std::uint8_t>> parts) {
  for (const auto part : parts) append(part);
  const std::uint8_t check = error_byte(bytes());
  append({&check, 1});
}

Packet Packet::received(std::span<const std::uint8_t> bytes) {
  Packet packet;
  packet.append(bytes);
  return packet;
}

void Packet::append(std::span<const std::uint8_t> part) {
  if (part.size() > max_size - size_) {
    throw std::length_error("DCC packet of " + std::to_string(size_ + part.size()) + " bytes: at most " +
                            std::to_string(max_size) + " fit; send one instruction per packet");
  }
  std::ranges::copy(part, bytes_.begin() + static_cast<std::ptrdiff_t>(size_));
  size_ += part.size();
}

std::uint8_t error_byte(std::span<const std::uint8_t> bytes) {
  std::uint8_t result = 0;
  for (const std::uint8_t byte : bytes) result ^= byte;
  return result;
}

bool undamaged(std::span<const std::uint8_t> packet) { return packet.size() >= 3 && error_byte(packet) == 0; }

int duration_us(std::span<const std::uint8_t> packet, int preamble_bits) {
  int ones = preamble_bits + 1;  // the packet end bit is a one
  int zeros = 0;
  for (const std::uint8_t byte : packet) {
    const int set = std::popcount(byte);
    ones += set;
    zeros += 1 + 8 - set;  // each byte follows a zero: packet start bit or separator
  }
  return ones * one_bit_us + zeros * zero_bit_us;
}

}  // namespace lapwright::dcc
