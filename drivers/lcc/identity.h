// Node IDs and event IDs of LCC: 48 and 64 bits, written as pairs of hex digits with dots.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "drivers/dcc/address.h"
#include "drivers/turnout.h"

namespace lapwright::lcc {

/// Unique Identifiers Standard (S-9.7.0.3).
struct NodeId {
  std::uint64_t value = 0;  ///< 48 bits
  /// "02.01.0D.4C.43.01"; empty if it is not six pairs of hex digits.
  [[nodiscard]] static std::optional<NodeId> parse(std::string_view text);
  /// From six bytes or more, most significant first.
  [[nodiscard]] static std::optional<NodeId> from(std::span<const std::uint8_t> bytes);
  [[nodiscard]] std::array<std::uint8_t, 6> bytes() const;
  [[nodiscard]] std::string text() const;
  bool operator==(const NodeId&) const = default;
  bool operator<(const NodeId& other) const { return value < other.value; }
};

/// Event Identifiers Standard (S-9.7.0.4).
struct EventId {
  std::uint64_t value = 0;
  [[nodiscard]] static std::optional<EventId> parse(std::string_view text);
  [[nodiscard]] static std::optional<EventId> from(std::span<const std::uint8_t> bytes);
  [[nodiscard]] std::array<std::uint8_t, 8> bytes() const;
  [[nodiscard]] std::string text() const;
  bool operator==(const EventId&) const = default;
  bool operator<(const EventId& other) const { return value < other.value; }
};

/// Event Identifiers Standard 5.2; Train Control Standard 4.1.
namespace event {
constexpr EventId emergency_off{0x010000000000FFFF};
constexpr EventId clear_emergency_off{0x010000000000FFFE};
constexpr EventId emergency_stop_all{0x010000000000FFFD};
constexpr EventId clear_emergency_stop_all{0x010000000000FFFC};
constexpr EventId is_train{0x0101000000000303};
constexpr EventId duplicate_node_id{0x0101000000000201};
constexpr std::uint64_t activate_accessory = 0x0101020000FF0000;  ///< with the output in the lowest twelve bits
constexpr std::uint64_t deactivate_accessory = 0x0101020000FE0000;
}  // namespace event

/// The node of a DCC address: Unique Identifiers Standard 5.8.
[[nodiscard]] NodeId train_node(const dcc::VehicleAddress& address);

/// Asks for the train with that DCC address and no other kind, to be created where there is none: Train Search Standard
/// 5.2. @param steps  28 or 128, the kind of packets that a new train gets
[[nodiscard]] EventId train_search(const dcc::VehicleAddress& address, int steps);

/// Event Identifiers Standard 5.3, "activate basic DCC accessory": the twelve bits are the eleven on the track and the
/// output (from memory). Where the order is an event ID, that.
[[nodiscard]] EventId turnout_event(const TurnoutOrder& order);

}  // namespace lapwright::lcc
