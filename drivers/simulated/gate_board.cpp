#include "drivers/simulated/gate_board.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace lapwright::simulated {

namespace {
constexpr double counter_span_us = 4294967296.0;  // 2^32
constexpr double twin_from_s = 0.030;
constexpr double twin_to_s = 0.080;
constexpr double twin_width_s = 0.004;
constexpr double hold_back_sigmas = 4;  // of stamp jitter, so that stamps leave in their order
}  // namespace

GateBoard::GateBoard(const BoardDescription& description, Silhouette silhouette, std::uint64_t seed)
    : description_(description), silhouette_(std::move(silhouette)), luck_(seed ^ 0x626f617264ULL) {
  counter_start_us_ = counter_span_us - 1e6 * luck_.uniform(20, 400);  // wraps early, so that everybody meets it
  look_ahead();
}

void GateBoard::look_ahead() {
  twin_lead_s_ = luck_.chance(0.5 * description_.twin) ? luck_.uniform(twin_from_s, twin_to_s) : 0;
}

void GateBoard::meet(double from_s, double dt_s, double from_mm, double to_mm) {
  const bool forward = to_mm > from_mm;
  const double speed_mm_s = (to_mm - from_mm) / dt_s;
  while (forward ? to_mm >= silhouette_.ahead_mm() : to_mm < silhouette_.behind_mm()) {
    const double at_mm = forward ? silhouette_.ahead_mm() : silhouette_.behind_mm();
    const double share = std::clamp((at_mm - from_mm) / (to_mm - from_mm), 0.0, 1.0);
    change(forward ? silhouette_.ahead() : silhouette_.behind(), at_mm, forward, from_s + share * dt_s);
    if (forward) {
      silhouette_.pass_ahead();
    } else {
      silhouette_.pass_behind();
    }
    look_ahead();
  }
  const double left_s = ((forward ? silhouette_.ahead_mm() : silhouette_.behind_mm()) - to_mm) / speed_mm_s;
  if (twin_lead_s_ > 0 && left_s <= twin_lead_s_) {
    const BeamChange& beam = forward ? silhouette_.ahead() : silhouette_.behind();
    twin(beam.gate, beam.blocked_forward != forward, from_s + dt_s);
    twin_lead_s_ = 0;
  }
}

void GateBoard::change(const BeamChange& beam, double engine_mm, bool forward, double at_s) {
  if (yard_ != nullptr && yard_->in_track(engine_mm - beam.behind_mm)) return;
  ++changes_;
  const bool blocked = beam.blocked_forward == forward;
  if (luck_.chance(description_.miss)) {
    ++missed_;
    return;
  }
  const double stamp_s = at_s + description_.stamp_error_s * luck_.normal();
  put(stamp_s, beam.gate, blocked);
  if (luck_.chance(description_.bounce)) bounce(beam.gate, blocked, stamp_s);
  if (luck_.chance(0.5 * description_.twin)) twin(beam.gate, blocked, stamp_s + luck_.uniform(twin_from_s, twin_to_s));
}

void GateBoard::twin(int gate, bool settled_blocked, double at_s) {
  ++twins_;
  put(at_s, gate, !settled_blocked);
  put(at_s + twin_width_s * luck_.uniform(0.2, 1), gate, settled_blocked);
}

void GateBoard::bounce(int gate, bool settled_blocked, double at_s) {
  const int pairs = luck_.chance(0.3) ? 2 : 1;
  double stamp_s = at_s;
  for (int pair = 0; pair < pairs; ++pair) {
    for (const bool blocked : {!settled_blocked, settled_blocked}) {
      stamp_s += description_.bounce_s * luck_.uniform(0.05, 1) / (2 * pairs);
      put(stamp_s, gate, blocked);
    }
  }
}

void GateBoard::put(double stamp_s, int gate, bool blocked) {
  const auto place = std::ranges::upper_bound(pending_, stamp_s, {}, &Pending::stamp_s);
  pending_.insert(place, Pending{stamp_s, gate, blocked});
}

std::uint32_t GateBoard::counter_us(double at_s) const {
  const double since_reset_us = std::floor(counter_start_us_ + 1e6 * at_s);
  return static_cast<std::uint32_t>(static_cast<std::uint64_t>(since_reset_us));  // modulo 2^32
}

std::optional<GateEdge> GateBoard::take(double now_s) {
  if (pending_.empty()) return std::nullopt;
  const Pending first = pending_.front();
  if (first.stamp_s + hold_back_sigmas * description_.stamp_error_s > now_s) return std::nullopt;
  pending_.erase(pending_.begin());
  last_given_s_ = std::max(last_given_s_, first.stamp_s);
  GateEdge edge;
  edge.gate = first.gate;
  edge.blocked = first.blocked;
  edge.counter_us = counter_us(last_given_s_);
  edge.epoch = epoch_;
  return edge;
}

}  // namespace lapwright::simulated
