#include "drivers/dcc/xpom.h"

#include <algorithm>
#include <stdexcept>
#include <string>

#include "drivers/dcc/cv_bytes.h"

namespace lapwright::dcc {
namespace {

constexpr int read_base = 0xE4;
constexpr int xpom_bit_base = 0xE8;
constexpr int xpom_write_base = 0xEC;
constexpr std::size_t head_size = 4;  // instruction byte and three address bytes

std::array<std::uint8_t, head_size> head(int base, int sequence, XpomAddress at) {
  if (sequence < 0 || sequence > 3) {
    throw std::out_of_range("XPOM sequence number " + std::to_string(sequence) + " lies outside 0 … 3");
  }
  return {static_cast<std::uint8_t>(base | sequence), at.cv31, at.cv32, at.place};
}

bool is(std::span<const std::uint8_t> instruction, int base) {
  return instruction.size() >= head_size && (instruction[0] & 0xFC) == base;
}

int sequence_of(std::span<const std::uint8_t> instruction) { return instruction[0] & 3; }

XpomAddress address_of(std::span<const std::uint8_t> instruction) {
  return {instruction[1], instruction[2], instruction[3]};
}

}  // namespace

XpomAddress xpom_address(int cv) {
  const CvField field = cv_field(cv);
  return {0, field.high, field.low};
}

Packet xpom_read(VehicleAddress to, int sequence, XpomAddress at) {
  const auto bytes = head(read_base, sequence, at);
  return Packet{to.bytes(), bytes};
}

Packet xpom_write(VehicleAddress to, int sequence, XpomAddress at, std::span<const std::uint8_t> values) {
  if (values.empty() || values.size() > 4) {
    throw std::out_of_range("XPOM write of " + std::to_string(values.size()) + " values: one to four fit in a packet");
  }
  const auto bytes = head(xpom_write_base, sequence, at);
  return Packet{to.bytes(), bytes, values};
}

Packet xpom_write_bit(VehicleAddress to, int sequence, XpomAddress at, int bit, bool value) {
  const auto bytes = head(xpom_bit_base, sequence, at);
  const std::array order{bit_order(bit, value, true)};
  return Packet{to.bytes(), bytes, order};
}

std::optional<XpomRead> decode_xpom_read(std::span<const std::uint8_t> instruction) {
  if (!is(instruction, read_base) || instruction.size() != head_size) return std::nullopt;
  return XpomRead{sequence_of(instruction), address_of(instruction)};
}

std::optional<XpomWrite> decode_xpom_write(std::span<const std::uint8_t> instruction) {
  if (!is(instruction, xpom_write_base) || instruction.size() <= head_size || instruction.size() > head_size + 4) {
    return std::nullopt;
  }
  XpomWrite result{sequence_of(instruction), address_of(instruction), {}, instruction.size() - head_size};
  std::ranges::copy(instruction.subspan(head_size), result.values.begin());
  return result;
}

std::optional<XpomBitWrite> decode_xpom_bit(std::span<const std::uint8_t> instruction) {
  if (!is(instruction, xpom_bit_base) || instruction.size() != head_size + 1) return std::nullopt;
  const int order = instruction[head_size];
  if ((order & 0xF0) != 0xF0) return std::nullopt;
  return XpomBitWrite{sequence_of(instruction), address_of(instruction), order & 7, (order & 8) != 0};
}

}  // namespace lapwright::dcc
