#include "drivers/lcc/event_gates.h"

#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;

namespace {
constexpr std::size_t most_edges = 10000;  // that nobody fetched; older ones are dropped then
}

std::vector<EventId> EventGates::all(const std::vector<GateEvents>& gates) {
  std::vector<EventId> events;
  for (const GateEvents& gate : gates) {
    events.push_back(gate.blocked);
    events.push_back(gate.clear);
  }
  return events;
}

void EventGates::ask() {
  for (const GateEvents& gate : gates_) node_.tell(Mti::identify_producer, gate.blocked.bytes());
}

std::optional<bool> EventGates::blocked(int gate) const {
  if (opening_ != node_.openings()) return std::nullopt;
  return blocked_[static_cast<std::size_t>(gate)];
}

void EventGates::note(std::size_t gate, bool blocked) {
  if (opening_ != node_.openings()) blocked_.assign(gates_.size(), std::nullopt);
  opening_ = node_.openings();
  blocked_[gate] = blocked;
}

void EventGates::hear(const Message& message, Instant heard) {
  // Of a producer's answer: whether its event holds now; no occurrence of it (Event Transport Standard 6).
  const bool holds = message.mti == Mti::producer_valid;
  if (holds || message.mti == Mti::producer_invalid) {
    const auto told = EventId::from(message.content);
    for (std::size_t gate = 0; gate < gates_.size(); ++gate) {
      if (told == gates_[gate].blocked) note(gate, holds);
      if (told == gates_[gate].clear) note(gate, !holds);
    }
  }
  if (message.mti != Mti::event_report && message.mti != Mti::event_report_first) return;
  const auto event = EventId::from(message.content);
  const auto counter = std::chrono::duration_cast<std::chrono::microseconds>(heard.time_since_epoch()).count();
  for (std::size_t gate = 0; gate < gates_.size(); ++gate) {
    const bool blocked = event == gates_[gate].blocked;
    if (!blocked && event != gates_[gate].clear) continue;
    note(gate, blocked);
    if (edges_.size() == most_edges) edges_.pop_front();
    edges_.push_back(GateEdge{static_cast<int>(gate), blocked, static_cast<std::uint32_t>(counter),
                              static_cast<std::uint32_t>(node_.openings()), heard});
  }
}

asio::awaitable<std::optional<GateEdge>> EventGates::next_edge(Instant deadline) {
  for (;;) {
    const std::string trouble = node_.trouble();
    if (!trouble.empty() && node_.presence() != Presence::choosing_alias) throw RigFault(trouble);
    if (!edges_.empty()) break;
    if (node_.clock().now() >= deadline) co_return std::nullopt;
    co_await node_.bell().wait_until(node_.clock(), deadline);
  }
  const GateEdge first = edges_.front();
  edges_.pop_front();
  co_return first;
}

}  // namespace lapwright::lcc
