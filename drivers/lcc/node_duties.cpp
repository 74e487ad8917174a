// What every node owes the others: its name, what it can do, which events it listens to, and a word where it can't
// help.
#include <algorithm>

#include "drivers/lcc/node.h"

namespace lapwright::lcc {
namespace {

// Message Network Standard 3.3.7: datagrams, events, simple node information.
constexpr std::array<std::uint8_t, 3> abilities = {0x44, 0x10, 0x00};
// Message Network Standard 3.5.5, Memory Configuration Standard 4.3.
constexpr std::uint16_t unknown_datagram = 0x1042, unknown_type = 0x1043;
constexpr std::uint8_t memory_configuration = 0x20;

void append(std::vector<std::uint8_t>& bytes, std::string_view text) {
  bytes.insert(bytes.end(), text.begin(), text.end());
  bytes.push_back(0);
}

void append(std::vector<std::uint8_t>& bytes, std::uint16_t value) {
  bytes.push_back(static_cast<std::uint8_t>(value >> 8U));
  bytes.push_back(static_cast<std::uint8_t>(value));
}

/// Simple Node Information Standard 5.1: four strings of the program's, two of its user's.
std::vector<std::uint8_t> node_information(const std::string& name) {
  std::vector<std::uint8_t> bytes = {4};
  append(bytes, "Lapwright");
  append(bytes, "lapwrightd");
  append(bytes, "");
  append(bytes, "");
  bytes.push_back(2);
  append(bytes, std::string_view(name).substr(0, 62));
  append(bytes, "tunes engines by itself");
  return bytes;
}

/// A reply to a read or a write of ours, perhaps too late: whoever sent it waits for our word.
bool is_memory_reply(const Message& datagram) {
  if (datagram.content.size() < 2 || datagram.content[0] != memory_configuration) return false;
  const unsigned command = datagram.content[1];
  return (command & 0x10U) != 0 || (command & 0xF0U) == 0x80U;
}

}  // namespace

void Node::do_duties(const Message& message) {
  const auto event = EventId::from(message.content);
  const auto named = NodeId::from(message.content);
  switch (message.mti) {
    case Mti::initialization_complete:
    case Mti::initialization_complete_simple:
    case Mti::verified_node:
    case Mti::verified_node_simple:
      if (named) book_.note(message.source, *named);
      return;
    case Mti::verify_node_global:
      if (named && *named != settings_.id) return;
      return tell(Mti::verified_node, settings_.id.bytes());
    case Mti::verify_node_addressed:
      return tell(Mti::verified_node, settings_.id.bytes());
    case Mti::protocol_inquiry:
      return tell(Mti::protocol_reply, message.source, abilities);
    case Mti::node_information_request:
      return tell(Mti::node_information_reply, message.source, node_information(settings_.name));
    case Mti::identify_consumer:
      if (event && std::ranges::count(settings_.consumed, *event) > 0) tell(Mti::consumer_unknown, event->bytes());
      return;
    case Mti::identify_producer:
      if (event && std::ranges::count(settings_.produced, *event) > 0) tell(Mti::producer_unknown, event->bytes());
      return;
    case Mti::identify_events_global:
    case Mti::identify_events_addressed:
      for (const EventId consumed : settings_.consumed) tell(Mti::consumer_unknown, consumed.bytes());
      for (const EventId produced : settings_.produced) tell(Mti::producer_unknown, produced.bytes());
      return;
    case Mti::datagram: {
      if (is_memory_reply(message)) {
        const std::array<std::uint8_t, 1> no_flags = {0};
        return tell(Mti::datagram_received, message.source, no_flags);
      }
      std::vector<std::uint8_t> error;
      append(error, unknown_datagram);
      return tell(Mti::datagram_rejected, message.source, error);
    }
    case Mti::interaction_rejected:
    case Mti::terminated_by_error:
    case Mti::protocol_reply:
    case Mti::node_information_reply:
    case Mti::train_command:  // copies of what others command a train that we listen to
    case Mti::train_reply:
    case Mti::datagram_received:
    case Mti::datagram_rejected:
      return;
    default:
      break;
  }
  if (!is_addressed(message.mti)) return;
  std::vector<std::uint8_t> error;
  append(error, unknown_type);
  append(error, static_cast<std::uint16_t>(message.mti));
  tell(Mti::interaction_rejected, message.source, error);
}

}  // namespace lapwright::lcc
