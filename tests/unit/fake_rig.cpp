#include "tests/unit/fake_rig.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double nothing_mm = 1e-9;

/// Way to a place in the direction of travel; on a loop the place comes again each lap.
double way_mm(double at_mm, double place_mm, double sign, double loop_mm) {
  double way = sign * (place_mm - at_mm);
  if (loop_mm > 0) way -= loop_mm * std::floor((way - nothing_mm) / loop_mm);
  return way;
}

}  // namespace

void FakeRig::put_at(double forward_end_mm) {
  at_mm_ = forward_end_mm;
  moved_at_ = clock_.now();
}

double FakeRig::position_mm() {
  advance_to(clock_.now());
  return at_mm_;
}

std::optional<FakeRig::Crossing> FakeRig::next_crossing() const {
  if (velocity_mm_s_ == 0) return std::nullopt;
  const double sign = velocity_mm_s_ > 0 ? 1 : -1;
  std::optional<Crossing> nearest;
  for (std::size_t gate = 0; gate < gates_mm.size(); ++gate) {
    for (const bool forward_end : {true, false}) {
      const double place_mm = gates_mm[gate] + (forward_end ? 0 : length_mm);
      const double way = way_mm(at_mm_, place_mm, sign, loop_mm);
      if (way <= nothing_mm || (nearest && way >= nearest->distance_mm)) continue;
      GateEdge edge;
      edge.gate = static_cast<int>(gate);
      edge.blocked = forward_end == (sign > 0);
      nearest = Crossing{way, edge};
    }
  }
  return nearest;
}

void FakeRig::glide_to(Instant when) {
  while (moved_at_ < when) {
    const double span_s = in_seconds(when - moved_at_);
    std::optional<Crossing> crossing = next_crossing();
    // What ends its glide within rounding of a gate has reached it; or else it would be past it without an edge.
    const bool crosses = crossing && crossing->distance_mm <= std::abs(velocity_mm_s_) * span_s + nothing_mm;
    const double sign = velocity_mm_s_ > 0 ? 1 : -1;
    const double way = crosses ? crossing->distance_mm : std::abs(velocity_mm_s_) * span_s;
    at_mm_ += sign * way;
    lowest_mm = std::min(lowest_mm, at_mm_);
    highest_mm = std::max(highest_mm, at_mm_);
    if (!crosses) break;
    moved_at_ = std::min(when, moved_at_ + seconds(way / std::abs(velocity_mm_s_)));
    crossing->edge.counter_us = static_cast<std::uint32_t>(moved_at_.time_since_epoch().count() / 1000);
    crossing->edge.heard = moved_at_;
    if (!loses || !loses(crossing->edge)) edges_.push_back(crossing->edge);
  }
  moved_at_ = when;
}

void FakeRig::advance_to(Instant now) {
  while (!changes_.empty() && changes_.front().at <= now) {
    glide_to(changes_.front().at);
    velocity_mm_s_ = changes_.front().velocity_mm_s;
    changes_.pop_front();
  }
  glide_to(now);
}

asio::awaitable<void> FakeRig::drive(ThrottleCommand command) {
  advance_to(clock_.now());
  commands.push_back(command);
  const double speed = command.step == 0 || !speed_mm_s ? 0.0 : speed_mm_s(command);
  const double sign = command.direction == Direction::forward ? 1 : -1;
  changes_.push_back(Change{clock_.now() + seconds(lag_s), sign * speed});
  advance_to(clock_.now());
  co_return;
}

asio::awaitable<void> FakeRig::halt() {
  advance_to(clock_.now());
  changes_.clear();
  velocity_mm_s_ = 0;
  co_return;
}

asio::awaitable<CvWriteReply> FakeRig::write_cv(int cv, std::uint8_t value) {
  writes.emplace_back(cv, value);
  const CvWriteReply reply = answers ? answers(cv, value) : CvWriteReply::silent;
  if (reply != CvWriteReply::refused) cvs[cv] = value;  // taken before the station is through
  if (write_s > 0) co_await clock_.sleep_for(seconds(write_s));
  co_return reply;
}

asio::awaitable<CvWriteReply> FakeRig::write_cv_bit(int cv, int bit, bool value) {
  const int mask = 1 << bit;
  cvs[cv] = static_cast<std::uint8_t>(value ? cvs[cv] | mask : cvs[cv] & ~mask);
  co_return CvWriteReply::silent;
}

asio::awaitable<std::optional<std::uint8_t>> FakeRig::read_cv(int) { co_return std::nullopt; }

asio::awaitable<std::optional<GateEdge>> FakeRig::next_edge(Instant deadline) {
  constexpr Duration tick = std::chrono::milliseconds(1);  // how finely the fake looks
  for (;;) {
    advance_to(clock_.now());
    if (!edges_.empty()) {
      const GateEdge edge = edges_.front();
      edges_.pop_front();
      co_return edge;
    }
    const Instant now = clock_.now();
    if (now >= deadline) co_return std::nullopt;
    const Instant wake = std::min(deadline, now + tick);
    co_await clock_.sleep_until(wake);
  }
}

}  // namespace lapwright
