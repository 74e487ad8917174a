#include "drivers/dcc/instruction.h"

#include "drivers/dcc/packet.h"

namespace lapwright::dcc {
namespace {

constexpr std::uint8_t binary_state_short = 0xDD;
constexpr std::uint8_t binary_state_long = 0xC0;

VehicleInstruction parse_one_byte(std::uint8_t byte) {
  if ((byte & 0xC0) == 0x40) return BaselineSpeed{byte};
  if (const auto functions = decode_functions(byte)) return *functions;
  if (const auto control = decode_decoder_control(byte)) return *control;
  return Unread{};
}

VehicleInstruction parse_two_bytes(std::uint8_t byte, std::uint8_t data) {
  if (byte == speed126_instruction) return ExtendedSpeed{decode_speed126(data)};
  if (byte == binary_state_short) return BinaryState{data & 0x7F, (data & 0x80) != 0};
  if (const auto functions = decode_functions(byte, data)) return *functions;
  if (const auto consist = decode_consist_control(byte, data)) return *consist;
  return Unread{};
}

VehicleInstruction parse_cv_access(std::span<const std::uint8_t> instruction) {
  if (const auto found = decode_verify(instruction)) return *found;
  if (const auto found = decode_write(instruction)) return *found;
  if (const auto found = decode_bit(instruction)) return *found;
  if (const auto found = decode_short_form(instruction)) return *found;
  if (const auto found = decode_xpom_read(instruction)) return *found;
  if (const auto found = decode_xpom_write(instruction)) return *found;
  if (const auto found = decode_xpom_bit(instruction)) return *found;
  return Unread{};
}

VehicleInstruction parse_vehicle(std::span<const std::uint8_t> instruction) {
  if (instruction.empty()) return Unread{};
  if (instruction[0] >= 0xE0) return parse_cv_access(instruction);
  if (instruction.size() == 1) return parse_one_byte(instruction[0]);
  if (instruction.size() == 2) return parse_two_bytes(instruction[0], instruction[1]);
  if (instruction.size() == 3 && instruction[0] == binary_state_long) {
    return BinaryState{(instruction[1] & 0x7F) | (instruction[2] << 7), (instruction[1] & 0x80) != 0};
  }
  return Unread{};
}

Instruction parse_accessory(std::span<const std::uint8_t> packet) {
  if (const auto basic = decode_basic_accessory(packet)) return *basic;
  if (const auto extended = decode_extended_accessory(packet)) return *extended;
  return Unread{};
}

Instruction parse_long(std::span<const std::uint8_t> packet, std::span<const std::uint8_t> without_error_byte) {
  const auto number = from_cv17_18({packet[0], packet[1]});
  if (!number || without_error_byte.size() < 3) return Unread{};
  return ToVehicle{VehicleAddress::long_form(*number), parse_vehicle(without_error_byte.subspan(2))};
}

}  // namespace

std::optional<Instruction> parse(std::span<const std::uint8_t> packet) {
  if (!undamaged(packet)) return std::nullopt;
  const auto content = packet.first(packet.size() - 1);
  switch (partition(packet[0])) {
    case Partition::broadcast:
      return ToVehicle{std::nullopt, parse_vehicle(content.subspan(1))};
    case Partition::short_vehicle:
      return ToVehicle{VehicleAddress::short_form(packet[0]), parse_vehicle(content.subspan(1))};
    case Partition::long_vehicle:
      return parse_long(packet, content);
    case Partition::accessory:
      return parse_accessory(packet);
    case Partition::idle:
      if (packet.size() == 3 && packet[1] == 0) return Idle{};
      return Unread{};
    case Partition::reserved:
    case Partition::advanced:
      break;
  }
  return Unread{};
}

}  // namespace lapwright::dcc
