#include "drivers/lcc/identity.h"

#include <charconv>
#include <cstdio>

namespace lapwright::lcc {
namespace {

/// Pairs of hex digits with dots between them, exactly so many.
std::optional<std::uint64_t> parse_pairs(std::string_view text, std::size_t pairs) {
  if (text.size() != 3 * pairs - 1) return std::nullopt;
  std::uint64_t value = 0;
  for (std::size_t pair = 0; pair < pairs; ++pair) {
    const char* const digits = text.data() + 3 * pair;
    unsigned byte = 0;
    const auto [end, error] = std::from_chars(digits, digits + 2, byte, 16);
    if (error != std::errc() || end != digits + 2) return std::nullopt;
    if (pair + 1 < pairs && digits[2] != '.') return std::nullopt;
    value = value << 8U | byte;
  }
  return value;
}

std::optional<std::uint64_t> joined(std::span<const std::uint8_t> bytes, std::size_t count) {
  if (bytes.size() < count) return std::nullopt;
  std::uint64_t value = 0;
  for (const std::uint8_t byte : bytes.first(count)) value = value << 8U | byte;
  return value;
}

template <std::size_t count>
std::array<std::uint8_t, count> parted(std::uint64_t value) {
  std::array<std::uint8_t, count> bytes{};
  for (std::size_t at = count; at > 0; --at, value >>= 8U) bytes[at - 1] = static_cast<std::uint8_t>(value);
  return bytes;
}

std::string dotted(std::span<const std::uint8_t> bytes) {
  std::string text;
  for (const std::uint8_t byte : bytes) {
    std::array<char, 4> digits{};
    std::snprintf(digits.data(), digits.size(), "%02X", static_cast<unsigned>(byte));
    if (!text.empty()) text += '.';
    text += digits.data();
  }
  return text;
}

template <class Id>
std::optional<Id> made(std::optional<std::uint64_t> value) {
  return value ? std::optional(Id{*value}) : std::nullopt;
}

constexpr std::uint64_t dcc_nodes = 0x060100000000;
constexpr unsigned long_mark = 0xC000;
constexpr std::uint64_t search_block = 0x090099FF00000000;
// Train Search Standard 5.2, tables 3 and 4.
constexpr unsigned allocate = 0x80, exact = 0x40, address_only = 0x20;
constexpr unsigned dcc_any = 0x08, force_long = 0x04, with_28_steps = 0x02, with_128_steps = 0x03;

}  // namespace

std::optional<NodeId> NodeId::parse(std::string_view text) { return made<NodeId>(parse_pairs(text, 6)); }
std::optional<NodeId> NodeId::from(std::span<const std::uint8_t> bytes) { return made<NodeId>(joined(bytes, 6)); }
std::array<std::uint8_t, 6> NodeId::bytes() const { return parted<6>(value); }
std::string NodeId::text() const { return dotted(bytes()); }

std::optional<EventId> EventId::parse(std::string_view text) { return made<EventId>(parse_pairs(text, 8)); }
std::optional<EventId> EventId::from(std::span<const std::uint8_t> bytes) { return made<EventId>(joined(bytes, 8)); }
std::array<std::uint8_t, 8> EventId::bytes() const { return parted<8>(value); }
std::string EventId::text() const { return dotted(bytes()); }

NodeId train_node(const dcc::VehicleAddress& address) {
  const auto number = static_cast<unsigned>(address.number());
  return NodeId{dcc_nodes | (address.is_long() ? long_mark | number : number)};
}

EventId train_search(const dcc::VehicleAddress& address, int steps) {
  // Six nibbles: decimal digits, unused ones in front are F.
  std::uint64_t nibbles = 0xFFFFFF;
  const std::string digits = std::to_string(address.number());
  for (const char digit : digits) nibbles = (nibbles << 4U | static_cast<unsigned>(digit - '0')) & 0xFFFFFF;
  const unsigned kind =
      dcc_any | (address.is_long() ? force_long : 0U) | (steps == 28 ? with_28_steps : with_128_steps);
  return EventId{search_block | nibbles << 8U | allocate | exact | address_only | kind};
}

EventId turnout_event(const TurnoutOrder& order) {
  if (const auto* const event = std::get_if<std::uint64_t>(&order)) return EventId{*event};
  const auto& accessory = std::get<dcc::BasicAccessory>(order);
  const std::uint64_t output = 2 * static_cast<std::uint64_t>(accessory.address) + (accessory.straight ? 1U : 0U);
  return EventId{(accessory.activate ? event::activate_accessory : event::deactivate_accessory) | output};
}

}  // namespace lapwright::lcc
