// The types of LCC messages that this program sends or understands.
#pragma once

#include <cstdint>

namespace lapwright::lcc {

/// Message types that this program sends or understands: Message Network, Event Transport, Train Control, Datagram
/// Transport and Simple Node Information Standards.
enum class Mti : std::uint16_t {
  initialization_complete = 0x0100,
  initialization_complete_simple = 0x0101,
  verify_node_addressed = 0x0488,
  verify_node_global = 0x0490,
  verified_node = 0x0170,
  verified_node_simple = 0x0171,
  interaction_rejected = 0x0068,
  terminated_by_error = 0x00A8,
  protocol_inquiry = 0x0828,
  protocol_reply = 0x0668,
  identify_consumer = 0x08F4,
  consumer_valid = 0x04C4,
  consumer_invalid = 0x04C5,
  consumer_unknown = 0x04C7,
  identify_producer = 0x0914,
  producer_valid = 0x0544,
  producer_invalid = 0x0545,
  producer_unknown = 0x0547,
  identify_events_global = 0x0970,
  identify_events_addressed = 0x0968,
  event_report = 0x05B4,
  event_report_first = 0x0F16,  ///< with payload, of which this program takes nothing
  node_information_request = 0x0DE8,
  node_information_reply = 0x0A08,
  train_command = 0x05EB,
  train_reply = 0x01E9,
  datagram = 0x1C48,
  datagram_received = 0x0A28,
  datagram_rejected = 0x0A48,
};

[[nodiscard]] constexpr bool is_addressed(Mti mti) { return (static_cast<unsigned>(mti) & 0x0008U) != 0; }

}  // namespace lapwright::lcc
