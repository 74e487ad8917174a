#include "drivers/dcc/accessory.h"

#include <array>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

constexpr int addresses = 2048;
constexpr int user_offset = 3;  // user number 1 is address 4

struct AddressPart {
  std::uint8_t first;  // 10aaaaaa: address bits 7 … 2
  int second;          // address bits 10 … 8 inverted at bit 6 … 4, bits 1 and 0 at bit 2 and 1
};

AddressPart address_part(int address) {
  if (address < 0 || address >= addresses) {
    throw std::out_of_range("accessory address " + std::to_string(address) + " lies outside 0 … 2047");
  }
  const int inverted_top = ~(address >> 8) & 7;
  return {static_cast<std::uint8_t>(0x80 | ((address >> 2) & 0x3F)), (inverted_top << 4) | ((address & 3) << 1)};
}

int address_from(int first, int second) {
  return ((~(second >> 4) & 7) << 8) | ((first & 0x3F) << 2) | ((second >> 1) & 3);
}

bool in_partition(std::uint8_t first) { return (first & 0xC0) == 0x80; }

}  // namespace

int accessory_address(int user_number) {
  if (user_number < 1 || user_number > addresses) {
    throw std::out_of_range("accessory number " + std::to_string(user_number) + " lies outside 1 … 2048");
  }
  return (user_number + user_offset) % addresses;
}

int accessory_user_number(int address) { return (address + addresses - user_offset - 1) % addresses + 1; }

Packet accessory(BasicAccessory order) {
  const AddressPart part = address_part(order.address);
  const int second = 0x80 | part.second | (order.activate ? 0x08 : 0) | (order.straight ? 1 : 0);
  const std::array bytes{part.first, static_cast<std::uint8_t>(second)};
  return Packet{bytes};
}

Packet accessory(ExtendedAccessory order) {
  const AddressPart part = address_part(order.address);
  const std::array bytes{part.first, static_cast<std::uint8_t>(part.second | 1), order.aspect};
  return Packet{bytes};
}

std::optional<BasicAccessory> decode_basic_accessory(std::span<const std::uint8_t> packet) {
  if (packet.size() != 3 || !in_partition(packet[0]) || (packet[1] & 0x80) == 0) return std::nullopt;
  return BasicAccessory{address_from(packet[0], packet[1]), (packet[1] & 0x08) != 0, (packet[1] & 1) != 0};
}

std::optional<ExtendedAccessory> decode_extended_accessory(std::span<const std::uint8_t> packet) {
  if (packet.size() != 4 || !in_partition(packet[0]) || (packet[1] & 0x89) != 0x01) return std::nullopt;
  return ExtendedAccessory{address_from(packet[0], packet[1]), packet[2]};
}

}  // namespace lapwright::dcc
