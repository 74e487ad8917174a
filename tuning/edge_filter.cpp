#include "tuning/edge_filter.h"

#include <algorithm>

namespace lapwright {

EdgeFilter::EdgeFilter(int gates, double quiet_s) : quiet_s_(quiet_s), gates_(static_cast<std::size_t>(gates)) {}

double EdgeFilter::continuous_s(const GateEdge& edge) {
  if (epoch_ != edge.epoch) {  // the board has restarted: its counter, and every stamp, begins anew
    epoch_ = edge.epoch;
    elapsed_us_ = 0;
    last_lost_ = edge.lost;
    for (GateState& gate : gates_) gate = GateState{};
  } else {
    // Modulo 2^32; the signed difference lets a stamp that arrives slightly out of order step back.
    const auto step = static_cast<std::int32_t>(edge.counter_us - last_counter_us_);
    elapsed_us_ = static_cast<std::uint64_t>(static_cast<std::int64_t>(elapsed_us_) + step);
  }
  last_counter_us_ = edge.counter_us;
  return static_cast<double>(static_cast<std::int64_t>(elapsed_us_)) * 1e-6;
}

std::optional<Passage> EdgeFilter::feed(const GateEdge& edge) {
  taken_back_.reset();
  if (edge.gate < 0 || static_cast<std::size_t>(edge.gate) >= gates_.size()) return std::nullopt;
  const double at_s = continuous_s(edge);
  lost_ += static_cast<std::uint16_t>(edge.lost - last_lost_);
  last_lost_ = edge.lost;
  GateState& gate = gates_[static_cast<std::size_t>(edge.gate)];
  const bool bounce = at_s - gate.last_edge_s < quiet_s_;
  gate.last_edge_s = at_s;
  if (bounce) {
    ++bounces_;
    gate.blocked = edge.blocked;
    most_bounces_ = std::max(most_bounces_, ++gate.bounces);
    if (gate.latest) longest_change_s_ = std::max(longest_change_s_, at_s - gate.latest->at_s);
    return std::nullopt;
  }
  if (gate.blocked == edge.blocked) ++missed_;
  taken_back_ = unchanged(edge.gate);
  gate.blocked = edge.blocked;
  gate.bounces = 0;
  gate.latest = Passage{edge.gate, edge.blocked, at_s, edge.epoch};
  return gate.latest;
}

void EdgeFilter::forget_worst() {
  longest_change_s_ = 0;
  most_bounces_ = 0;
}

std::optional<Passage> EdgeFilter::unchanged(int gate) const {
  const GateState& state = gates_.at(static_cast<std::size_t>(gate));
  if (!state.latest || state.blocked == state.latest->blocked) return std::nullopt;
  return state.latest;
}

}  // namespace lapwright
