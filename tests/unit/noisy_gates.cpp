#include "tests/unit/noisy_gates.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double beyond_the_edge_mm = 1e-6;
constexpr Duration never = std::chrono::hours(1);

}  // namespace

NoisyGates::NoisyGates(Clock& clock, std::uint64_t seed) : clock_(clock), luck_(seed), moved_at_(clock.now()) {
  for (Beam& beam : beams_) beam.next_toggle = clock.now();
}

void NoisyGates::move_to(Instant now) {
  at_mm_ += velocity_mm_s_ * in_seconds(now - moved_at_);
  moved_at_ = now;
}

bool NoisyGates::sees(std::size_t gate) const {
  const double behind_mm = at_mm_ - gates_mm[gate];
  return std::any_of(parts_mm.begin(), parts_mm.end(),
                     [&](const auto& part) { return behind_mm > part.first && behind_mm < part.second; });
}

/// Just beyond the next edge of a part.
Instant NoisyGates::next_crossing() const {
  double nearest_mm = std::abs(velocity_mm_s_) * in_seconds(never);
  for (const double gate_mm : gates_mm) {
    for (const auto& [from_mm, to_mm] : parts_mm) {
      for (const double place_mm : {gate_mm + from_mm, gate_mm + to_mm}) {
        const double way_mm = (velocity_mm_s_ > 0 ? 1 : -1) * (place_mm - at_mm_);
        if (way_mm > -beyond_the_edge_mm / 2) nearest_mm = std::min(nearest_mm, way_mm + beyond_the_edge_mm);
      }
    }
  }
  return velocity_mm_s_ == 0 ? moved_at_ + never : moved_at_ + seconds(nearest_mm / std::abs(velocity_mm_s_));
}

void NoisyGates::toggle(Beam& beam, bool seen) {
  const Instant now = clock_.now();
  if (now < beam.next_toggle) return;
  if (beam.disturbed && now >= beam.calm_at) {
    beam.disturbed = false;
    beam.next_toggle = now + (quiet_mean_s > 0 ? seconds(quiet_mean_s * luck_.exponential()) : never);
    return;
  }
  if (!beam.disturbed) {
    if (quiet_mean_s <= 0) {
      beam.next_toggle = now + never;
      return;
    }
    const double kind = luck_.uniform();
    beam.disturbed = true;
    beam.tells = seen;
    beam.calm_at = now + seconds(kind < 0.5 ? 0.0 : luck_.uniform(0.05, kind < 0.75 ? 1.0 : 2.0));
    if (kind < 0.5) {
      beam.least = std::chrono::microseconds(20), beam.most = std::chrono::microseconds(800);
    } else if (kind < 0.75) {
      beam.least = beam.most = std::chrono::milliseconds(5);
    } else {
      beam.least = std::chrono::milliseconds(15), beam.most = std::chrono::milliseconds(45);
    }
    ++disturbances;
  }
  beam.tells = !beam.tells;
  beam.next_toggle = now + seconds(luck_.uniform(in_seconds(beam.least), in_seconds(beam.most)));
}

asio::awaitable<void> NoisyGates::drive(ThrottleCommand command) {
  move_to(clock_.now());
  velocity_mm_s_ = (command.direction == Direction::forward ? 1 : -1) * per_step_mm_s * command.step * true_share;
  co_return;
}

asio::awaitable<std::optional<GateEdge>> NoisyGates::next_edge(Instant deadline) {
  for (;;) {
    move_to(clock_.now());
    for (std::size_t gate = 0; gate < beams_.size(); ++gate) {
      Beam& beam = beams_[gate];
      toggle(beam, sees(gate));
      const bool tells = beam.disturbed ? beam.tells : sees(gate);
      if (tells == beam.told) continue;
      beam.told = tells;
      ++edges;
      GateEdge edge;
      edge.gate = static_cast<int>(gate);
      edge.blocked = tells;
      edge.counter_us = static_cast<std::uint32_t>(clock_.now().time_since_epoch().count() / 1000);
      edge.heard = clock_.now();
      co_return edge;
    }
    if (clock_.now() >= deadline) co_return std::nullopt;
    Instant wake = std::min(deadline, next_crossing());
    for (const Beam& beam : beams_) wake = std::min(wake, beam.next_toggle);
    co_await clock_.sleep_until(wake);
  }
}

}  // namespace lapwright
