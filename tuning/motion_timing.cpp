// Reading one pass: waiting for the engine's end at both gates, and telling it from openings, doubled edges and
// flashes.
#include <algorithm>
#include <array>
#include <cmath>

#include "tuning/motion.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double late_doubles_s = 0.1;  // a doubled edge shows within this
constexpr double first_edge_grace_s = 2.5;
constexpr double second_edge_grace_s = 1.5;
constexpr double opening_at_most_mm = 40;
constexpr int bounces_at_most = 12;         // of one change; a lamp makes a hundred a second
constexpr double alike_s = 0.006;           // changes of one shape at two gates: as far apart as beams bounce
constexpr int too_often = 3;                // seconds on end of too much current: blocked
constexpr double longest_bounce_s = 0.005;  // what takes longer may be a gate that chatters as the engine comes

}  // namespace

asio::awaitable<void> Motion::follow(PassReader& reader, Instant deadline) {
  const std::optional<Passage> passage = co_await next_passage(deadline);
  if (!passage) co_return;
  if (filter_.taken_back()) reader.take_back(*filter_.taken_back());
  const bool end_leaves = passage->blocked == (direction_ == Direction::forward);
  // What blocks a beam again in reverse tells the reader that an opening had passed, not the end.
  const bool elsewhere = end_leaves && !is_forward_end(*passage);
  reader.feed(*passage, !elsewhere);
  if (elsewhere) co_return;
  // Before the entry gate has seen the end, the exit gate may be seeing an opening.
  if (!(end_leaves && reader.entry_missed())) note(*passage);
}

/// Both gates have been quiet for long enough.
void Motion::take_back_flashes(PassReader& reader) const {
  for (const int gate : {trap_.low_gate, trap_.high_gate}) {
    const std::optional<Passage> flash = filter_.unchanged(gate);
    if (flash) reader.take_back(*flash);
  }
}

asio::awaitable<bool> Motion::follow_on(PassReader& reader, Instant deadline) {
  const Instant slice = std::min(deadline, clock_.now() + std::chrono::seconds(1));
  co_await follow(reader, slice);
  const bool heard_nothing = clock_.now() >= slice;
  if (heard_nothing) take_back_flashes(reader);
  blocked_s_ = heard_nothing && draws_too_much() ? blocked_s_ + 1 : 0;
  co_return blocked_s_ < too_often;
}

asio::awaitable<bool> Motion::entry_was_missed(PassReader& reader, double expected_mm_s) {
  if (direction_ == Direction::forward) {
    set_position(trap_.base_mm);
    co_return true;
  }
  const double opening_s =
      opening_mm_ > 0 ? opening_mm_ / expected_mm_s : std::min(opening_at_most_mm / expected_mm_s, 1.0);
  const Instant seen = clock_.now();
  const Instant until = seen + seconds(1.4 * opening_s);
  while (reader.entry_missed() && clock_.now() < until) co_await follow(reader, until);
  if (reader.entry_missed()) set_position(-expected_mm_s * in_seconds(clock_.now() - seen));
  co_return reader.entry_missed();
}

void Motion::learn_openings(Direction direction, double seen_mm) {
  if (direction != Direction::forward) return;
  const bool again = seen_mm > 0 && std::abs(seen_mm - last_opening_mm_) < 0.3 * seen_mm;
  if (again) opening_mm_ = std::max(opening_mm_, seen_mm);  // seen twice alike: an opening, not a stray edge
  last_opening_mm_ = seen_mm;
}

asio::awaitable<PassTrouble> Motion::await_entry(PassReader& reader, PassOrder order, Instant deadline) {
  Reckoning::Forecast before = reckoning_.forecast(ahead_mm(order.direction), clock_.now());
  while (!reader.entered()) {
    if (reader.entry_missed()) {
      const bool missed = co_await entry_was_missed(reader, order.expected_mm_s);
      if (!missed) continue;
      co_return PassTrouble::entry_missed;
    }
    if (clock_.now() >= deadline) co_return PassTrouble::no_entry;
    before = reckoning_.forecast(ahead_mm(order.direction), clock_.now());
    const bool free = co_await follow_on(reader, deadline);
    if (!free) co_return PassTrouble::no_entry;
  }
  reckoning_.learn(before, order.reckoning_error, clock_.now());
  co_return PassTrouble::none;
}

/// Ends without trouble when the pass is complete, or when what had seemed the entry was a flash.
asio::awaitable<PassTrouble> Motion::await_exit(PassReader& reader, PassOrder order, Instant deadline) {
  const bool openings = order.direction == Direction::reverse && opening_mm_ > 0;
  const double watch_s = std::max(late_doubles_s, openings ? 1.4 * opening_mm_ / order.expected_mm_s : 0.0);
  while (reader.entered()) {
    if (!reader.complete()) {
      if (clock_.now() >= deadline) co_return PassTrouble::no_exit;
      const bool free = co_await follow_on(reader, deadline);
      if (!free) co_return PassTrouble::no_exit;
      if (!reader.complete()) continue;
    }
    usual_mA_ = std::max(usual_mA_, current_mA().value_or(0));
    seen_out_ = clock_.now();
    Instant watched = seen_out_ + seconds(watch_s);
    while (clock_.now() < watched) {  // an opening, or a flash, may look like the end for a while
      const std::optional<double> before_s = reader.elapsed_s();
      co_await follow(reader, watched);
      if (reader.complete() && reader.elapsed_s() != before_s) watched = clock_.now() + seconds(watch_s);
    }
    take_back_flashes(reader);
    if (reader.complete()) co_return PassTrouble::none;
  }
  co_return PassTrouble::none;
}

asio::awaitable<PassReading> Motion::time_the_trap(PassOrder order) {
  PassReading reading;
  PassReader reader(trap_, order.direction, order.expected_mm_s, opening_mm_ > 0);
  const double ahead = std::max(ahead_mm(order.direction), 0.0);
  const double entry_s = order.patience * ahead / order.expected_mm_s + first_edge_grace_s;
  const double exit_s = order.patience * trap_.base_mm / order.expected_mm_s + second_edge_grace_s;
  const Instant entry_deadline = clock_.now() + seconds(entry_s);
  const std::uint64_t lost_before = filter_.lost();
  double entered_running_s = 0;
  blocked_s_ = 0;
  filter_.forget_worst();
  while (!reader.complete()) {
    reading.trouble = co_await await_entry(reader, order, entry_deadline);
    if (reading.trouble != PassTrouble::none) co_return reading;
    entered_running_s = running_s();
    const Instant exit_deadline = clock_.now() + seconds(exit_s);
    reading.trouble = co_await await_exit(reader, order, exit_deadline);
    if (reading.trouble != PassTrouble::none) co_return reading;
  }
  const double within_s = alike_s + 6 * track_.stamp_error_s;
  const bool chatters = filter_.most_bounces() > bounces_at_most || filter_.lost() != lost_before;
  if (chatters || reader.restless() || !reader.seen_alike(within_s)) {
    reading.trouble = PassTrouble::noise;
    co_return reading;
  }
  const double exit_running_s = running_s() - in_seconds(clock_.now() - seen_out_);
  reading.running_s = 0.5 * (entered_running_s + exit_running_s);
  learn_openings(order.direction, reader.opening_seen_mm());
  const double elapsed_s = *reader.elapsed_s();
  const bool bounced_long = filter_.longest_change_s() > longest_bounce_s;
  const double doubt_s = reader.doubt_s() + (bounced_long ? filter_.longest_change_s() : 0.0);
  reading.speed_mm_s = trap_.base_mm / elapsed_s;
  reading.timing_sd_mm_s = std::sqrt(2.0) * track_.stamp_error_s * reading.speed_mm_s / elapsed_s;
  reading.doubt_mm_s = reading.speed_mm_s * doubt_s / elapsed_s;
  co_return reading;
}

}  // namespace lapwright
