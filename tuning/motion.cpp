#include "tuning/motion.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "tuning/others_current.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double coasting_s = 0.22;  // after a reversal the engine still moves the old way: its edges mislead
constexpr double search_mm = 250;    // beyond the trap, before the other side is tried
constexpr double deepest_opening_mm = 40;
constexpr double warming_s = 320;  // and cooling: how long running counts as if it had been just now
constexpr double too_much = 2.5;   // times the usual current
constexpr double push_s = 0.4;
constexpr int pushes = 6;
constexpr double near_mm = 50;  // to a gate, by dead reckoning, for an edge to be the forward end's

double signed_speed(double mm_s, Direction direction) { return direction == Direction::forward ? mm_s : -mm_s; }

}  // namespace

Motion::Motion(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode)
    : rig_(rig),
      clock_(clock),
      track_(track),
      mode_(mode),
      book_(mode),
      filter_(static_cast<int>(track.gates.size()), track.quiet_s),
      reckoning_(clock.now()),
      turned_at_(clock.now()),
      others_mA_(drawn_by_others_mA(rig.track_current_mA())),
      running_since_(clock.now()) {}

void Motion::use_trap(const Trap& trap) { trap_ = trap; }

void Motion::set_position(double at_mm) {
  backed_out_of_.reset();
  reckoning_.seen_at(at_mm, clock_.now());
}

void Motion::set_limits(double below_mm, double above_mm) {
  below_mm_ = below_mm;
  above_mm_ = above_mm;
}

double Motion::running_s() const { return running_s_ + (step_ > 0 ? in_seconds(clock_.now() - running_since_) : 0.0); }

double Motion::ahead_mm(Direction direction) const {
  double ahead = direction == Direction::forward ? -position_mm() : position_mm() - trap_.base_mm;
  // The shorter way round; timing laps, the base begins and ends at the same gate and is the whole way.
  return track_.shape == TrackShape::loop ? std::remainder(ahead, track_.length_mm) : ahead;
}

double Motion::room_behind_mm(Direction direction) const {
  const double position = position_mm();
  return direction == Direction::forward ? below_mm_ + position : above_mm_ + trap_.base_mm - position;
}

asio::awaitable<void> Motion::command(int step, Direction direction, double expected_mm_s) {
  const double velocity = step == 0 ? 0.0 : signed_speed(expected_mm_s, direction);
  if (step != step_ || direction != direction_) {
    const ThrottleCommand throttle{step, direction, mode_};
    co_await rig_.drive(throttle);
  }
  const Instant now = clock_.now();
  reckoning_.change_velocity(velocity, now);
  if (direction != direction_ || step_ == 0) turned_at_ = now;
  if (direction != direction_) backed_out_of_.reset();
  if (step_ > 0) running_s_ += in_seconds(now - running_since_);
  running_since_ = now;
  step_ = step;
  direction_ = direction;
}

asio::awaitable<void> Motion::stand() { return command(0, direction_, 0); }

asio::awaitable<std::optional<Passage>> Motion::next_passage(Instant deadline) {
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig_.next_edge(deadline);
    if (!edge) co_return std::nullopt;
    const std::optional<Passage> passage = filter_.feed(*edge);
    if (passage) co_return passage;
  }
}

bool Motion::is_forward_end(const Passage& passage) const {
  if (step_ == 0 || in_seconds(clock_.now() - turned_at_) < coasting_s) return false;
  if (passage.blocked != (direction_ == Direction::forward)) return false;
  const bool low = passage.gate == trap_.low_gate;
  if (!low && passage.gate != trap_.high_gate) return false;
  if (trap_.times_laps()) return true;  // one gate: there is no other place to be, and the speed may be unknown
  // Openings further back and the other end pass the gates as well: the forward end has to be about there.
  double off_mm = position_mm() - (low ? 0.0 : trap_.base_mm);
  if (track_.shape == TrackShape::loop) off_mm = std::remainder(off_mm, track_.length_mm);
  return std::abs(off_mm) < near_mm + reckoning_.doubt_mm(reckoning_error_, clock_.now());
}

void Motion::note(const Passage& passage) {
  const bool blocked_again = passage.blocked && backed_out_of_ == passage.gate && direction_ == Direction::reverse;
  if (blocked_again && reckoning_.since_seen_mm(clock_.now()) < longest_opening_mm) {
    reckoning_.revoke_sighting();  // an opening had left the beam, or a doubled edge
    backed_out_of_.reset();
  }
  if (!is_forward_end(passage)) return;
  // Timing laps, the one gate lies at both ends of the base.
  const bool high = passage.gate != trap_.low_gate || (trap_.times_laps() && direction_ == Direction::reverse);
  set_position(high ? trap_.base_mm : 0.0);
  if (direction_ == Direction::reverse) backed_out_of_ = passage.gate;
}

asio::awaitable<void> Motion::roll(double length_s) {
  const Instant deadline = clock_.now() + seconds(length_s);
  for (;;) {
    const std::optional<Passage> passage = co_await next_passage(deadline);
    if (!passage) co_return;
    note(*passage);
  }
}

asio::awaitable<void> Motion::rest_if_due() {
  double due_s = rig_.rest_due_s();
  if (due_s <= 0) co_return;
  co_await stand();
  const Instant began = clock_.now();
  for (; due_s > 0; due_s = rig_.rest_due_s()) co_await roll(due_s);
  cool(in_seconds(clock_.now() - began));
}

void Motion::cool(double standing_s) {
  const double warm = (1 - std::exp(-running_s_ / warming_s)) * std::exp(-standing_s / warming_s);
  running_s_ = -warming_s * std::log(1 - warm);
}

asio::awaitable<PassReading> Motion::pass(PassOrder order) {
  co_await rest_if_due();
  reckoning_error_ = order.reckoning_error;
  co_await approach(order);
  if (order.from_rest) {
    co_await stand();
    co_await roll(standstill_s);
  }
  co_await command(order.step, order.direction, order.expected_mm_s);
  const PassReading reading = co_await time_the_trap(order);
  co_return reading;
}

asio::awaitable<bool> Motion::sprint_to_edge(Direction direction, double reach_mm) {
  const int step = book_.step_near(1e9, direction);
  const double speed = book_.get(step, direction);
  if (step == 0 || speed <= 0) co_return false;
  co_await command(step, direction, speed);
  const Duration opening = seconds(deepest_opening_mm / speed);
  const Instant deadline = clock_.now() + seconds(1.3 * reach_mm / speed + 2);
  // Forward, the end comes in where the beam was long clear; in reverse it leaves a beam that then stays clear. An
  // opening does neither, but the two gates may see one and the end at nearly the same time: each is watched alone.
  std::array<Instant, 2> quiet_since = {};
  std::array<std::optional<Instant>, 2> left;
  while (clock_.now() < deadline) {
    Instant until = deadline;
    for (const std::size_t gate : {0U, 1U}) {
      if (left[gate]) until = std::min(until, *left[gate] + opening);
    }
    const std::optional<Passage> passage = co_await next_passage(until);
    const Instant now = clock_.now();
    for (const std::size_t gate : {0U, 1U}) {
      if (!left[gate] || now < *left[gate] + opening) continue;
      set_position((gate == 0 ? 0.0 : trap_.base_mm) - speed * in_seconds(now - *left[gate]));
      co_return true;
    }
    if (!passage) continue;
    const bool low = passage->gate == trap_.low_gate;
    if (!low && passage->gate != trap_.high_gate) continue;
    const std::size_t gate = low ? 0 : 1;
    const bool long_quiet = now - quiet_since[gate] > opening;
    quiet_since[gate] = now;
    left[gate].reset();
    if (in_seconds(now - turned_at_) < coasting_s) continue;
    if (passage->blocked != (direction == Direction::forward)) continue;
    if (direction == Direction::reverse) left[gate] = now;
    if (direction == Direction::reverse || !long_quiet) continue;
    set_position(low ? 0.0 : trap_.base_mm);
    co_return true;
  }
  co_return false;
}

std::optional<double> Motion::current_mA() const {
  const std::optional<double> all_mA = rig_.track_current_mA();
  return all_mA ? std::optional(std::max(*all_mA - others_mA_, 0.0)) : std::nullopt;
}

bool Motion::draws_too_much() const {
  const std::optional<double> now_mA = current_mA();
  return now_mA && usual_mA_ > 0 && *now_mA > too_much * usual_mA_;
}

asio::awaitable<void> Motion::push_free(Direction direction) {
  const int step = book_.step_near(1e9, direction);
  if (step == 0) co_return;
  Direction push = direction;
  for (int k = 0; k < pushes; ++k) {
    push = opposite(push);
    const double speed_mm_s = book_.get(step, push);
    co_await command(step, push, speed_mm_s);
    co_await roll(push_s);
  }
}

asio::awaitable<Whereabouts> Motion::recover(Direction direction) {
  const bool blocked = draws_too_much();
  if (blocked) co_await push_free(direction);
  const Whereabouts found = co_await search(direction);
  if (found != Whereabouts::lost || blocked) co_return found;
  co_await push_free(direction);
  const double reach_mm = track_.shape == TrackShape::loop ? track_.length_mm : trap_.base_mm + search_mm;
  const bool freed = co_await sprint_to_edge(direction, reach_mm);
  co_return freed ? Whereabouts::beyond_the_gate : Whereabouts::lost;
}

asio::awaitable<Whereabouts> Motion::search(Direction direction) {
  const bool laps = trap_.times_laps();
  const double reach_mm = laps ? search_mm : trap_.base_mm + search_mm;
  const bool ahead = co_await sprint_to_edge(direction, reach_mm);
  if (ahead) co_return Whereabouts::before_the_gate;
  if (laps) {  // the one gate comes again, but that tells nothing of where the engine had been
    const bool came = co_await sprint_to_edge(direction, trap_.base_mm);
    co_return came ? Whereabouts::beyond_the_gate : Whereabouts::lost;
  }
  const bool back = co_await sprint_to_edge(opposite(direction), 2 * reach_mm);
  if (back) co_return Whereabouts::beyond_the_gate;
  if (track_.shape == TrackShape::shuttle) co_return Whereabouts::lost;
  const bool round = co_await sprint_to_edge(direction, track_.length_mm);
  if (round) co_return Whereabouts::beyond_the_gate;
  co_return Whereabouts::lost;
}

}  // namespace lapwright
