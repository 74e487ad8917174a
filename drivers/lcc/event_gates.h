// Gates that report as events on the bus: their edges bear the time at which this host heard of them.
#pragma once

#include <deque>
#include <vector>

#include "drivers/bell.h"
#include "drivers/edge_source.h"
#include "drivers/lcc/node.h"

namespace lapwright::lcc {

struct GateEvents {
  EventId blocked;  ///< the beam became interrupted
  EventId clear;
};

/// Events bear no time of their own (Event Transport Standard 4.1): bus and host add milliseconds, which the track's
/// `stamp_error_s` has to say. A new epoch begins when the bus was lost.
class EventGates final : public EdgeSource {
 public:
  /// @param gates  in the order of the track's
  EventGates(Node& node, std::vector<GateEvents> gates)
      : node_(node), gates_(std::move(gates)), blocked_(gates_.size()) {}
  void hear(const Message& message, Instant heard);
  /// Asks whoever reports the gates how they are now; answers come by `hear`. @throws RigFault  not on the bus
  void ask();
  /// Whether something stands in that gate's beam, as far as it was told since the bus was opened.
  [[nodiscard]] std::optional<bool> blocked(int gate) const;
  [[nodiscard]] int gates() const { return static_cast<int>(gates_.size()); }
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  /// All of them, for `NodeSettings::consumed`.
  [[nodiscard]] static std::vector<EventId> all(const std::vector<GateEvents>& gates);

 private:
  void note(std::size_t gate, bool blocked);

  Node& node_;
  std::vector<GateEvents> gates_;
  std::vector<std::optional<bool>> blocked_;
  int opening_ = 0;  ///< of the link, in which that was told
  std::deque<GateEdge> edges_;
};

}  // namespace lapwright::lcc
