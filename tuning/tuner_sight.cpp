// The first run past two gates: how fast the engine is, and which way it faces.
#include <algorithm>
#include <array>
#include <cmath>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr int raises_at_most = 6;  // of an engine that moved a moment ago
constexpr int runs_at_most = 4;    // on a shuttle
constexpr double clear_of_it_s = 1.5;
constexpr double back_share = 1.3;     // of the time that it had come on, and …
constexpr double back_more_s = 5;      // … so much more, to be before the first gate again
constexpr double next_gate_s = 3;      // from one gate's end to the other one …
constexpr double next_gate_share = 3;  // … or so many times as long as the first one saw it

/// When the engine's end came to one gate. Openings behind the end block the beam again: they are clear for a shorter
/// time than the part before them blocked it, unlike the track between two visits.
struct Sighting {
  std::optional<double> came_s;
  std::optional<double> left_s;

  void feed(const Passage& seen) {
    if (!seen.blocked) {
      left_s = seen.at_s;
      return;
    }
    const bool opening = came_s && left_s && seen.at_s - *left_s < *left_s - *came_s;
    const bool doubled = came_s && !left_s;
    if (!opening && !doubled) came_s = seen.at_s;
    left_s.reset();
  }
};

/// Back the way that it came until the gate that saw it first has been clear for a while.
asio::awaitable<void> turn_back(Motion& motion, Clock& clock, int first_gate, double limit_s) {
  co_await motion.command(find_step, Direction::reverse, 0);
  const Instant limit = clock.now() + seconds(limit_s);
  bool clear = false;
  for (;;) {
    const Instant until = clear ? std::min(clock.now() + seconds(clear_of_it_s), limit) : limit;
    const std::optional<Passage> passage = co_await motion.next_passage(until);
    if (!passage) break;
    if (passage->gate == first_gate) clear = !passage->blocked;
  }
}

}  // namespace

/// Beyond the trap of a shuttle there is an end: an engine whose speed the gates did not tell is taken back before them
/// and tried again. On a loop it comes round.
asio::awaitable<void> Tuner::first_speed(Passage first) {
  for (int run = 1;; ++run) {
    const Instant began = clock_.now();
    const bool timed = co_await first_run(first);
    if (timed) co_return;
    if (order_.track.shape == TrackShape::loop || run == runs_at_most) break;
    const double limit_s = back_share * in_seconds(clock_.now() - began) + back_more_s;
    co_await turn_back(motion_, clock_, first.gate, limit_s);
    co_await rest();
    const std::optional<Passage> again = co_await nudge_until_seen();
    if (!again) break;
    first = *again;
  }
  throw TuneStopped{TuneEnd::position_lost, "the engine was seen at gate '" +
                                                order_.track.gates[static_cast<std::size_t>(first.gate)].name +
                                                "' and not at the next one. Check that gate, and that the track is "
                                                "clear"};
}

/// False: its speed is not known, and on a shuttle it may be on its way out.
asio::awaitable<bool> Tuner::first_run(Passage first) {
  const bool loop = order_.track.shape == TrackShape::loop;
  const double fastest_mm_s = 4 * 18 * unit_mm_s_;
  const double slowest_mm_s = slowest_find_share * 18 * unit_mm_s_;
  const Instant until = clock_.now() + seconds(order_.track.length_mm / slowest_mm_s);
  std::array<Sighting, 2> gates;  // low, high
  std::array<bool, 2> saw = {};
  int raises_left = raises_at_most;
  Instant raise_at = clock_.now() + seconds(trap_.base_mm / slowest_mm_s);
  Passage seen = first;
  for (;;) {
    const bool low = seen.gate == trap_.low_gate;
    Instant give_up = until;
    if (low || seen.gate == trap_.high_gate) {
      Sighting& here = gates[low ? 0 : 1];
      saw[low ? 0 : 1] = true;
      const std::optional<double> before = here.came_s;
      here.feed(seen);
      const std::optional<double> beside = trap_.times_laps() ? before : gates[low ? 1 : 0].came_s;
      if (seen.blocked && beside && here.came_s == seen.at_s) {
        const double speed_mm_s = trap_.base_mm / (seen.at_s - *beside);
        if (speed_mm_s <= fastest_mm_s && speed_mm_s >= slowest_mm_s) {
          take_bearings(speed_mm_s, trap_.times_laps() || !low);
          co_await motion_.command(find_step, Direction::forward, speed_mm_s);
          co_return true;
        }
        if (!loop) co_return false;  // a flash before it came, or it stood still on the way
      }
      // All of it has left this gate: if the other one missed its coming, it is on its way out.
      if (!loop && here.came_s && here.left_s) {
        const double other_within_s = std::max(next_gate_share * (*here.left_s - *here.came_s), next_gate_s);
        give_up = std::min(until, clock_.now() + seconds(other_within_s));
      }
    }
    std::optional<Passage> next;
    while (!next && clock_.now() < give_up) {
      // With the least drive that moves it, it may have stalled in the trap; the next lap will tell its speed then.
      const bool may_stand = saw[0] != saw[1] && raises_left > 0;
      const Instant deadline = may_stand ? std::min(raise_at, give_up) : give_up;
      next = co_await motion_.next_passage(deadline);
      if (next || !may_stand || clock_.now() >= give_up) break;
      --raises_left;
      int& entry = sheet_.settings().table[0];
      entry = std::min(static_cast<int>(std::ceil(entry * find_rise)), static_cast<int>(highest_find_value));
      co_await put_entry(1);
      raise_at = clock_.now() + std::chrono::seconds(1);
    }
    if (!next) co_return false;
    seen = *next;
  }
}

}  // namespace lapwright
