#include "tuning/presence.h"

#include <algorithm>

#include "tuning/edge_filter.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double rise_s = 1.5;         // for each of 28 steps …
constexpr double first_notch = 4;      // … from this one on: below it few engines move
constexpr double soon_share = 0.36;    // of the steps: nearly every engine moves by then …
constexpr double highest_share = 0.6;  // … and what does not move at this one does not hear
constexpr double slow_rise_s = 4;
constexpr double rising_s = 60;       // until the highest step, and momentum
constexpr double slowest_mm_s = 150;  // of an engine at that step, for the way around the track
constexpr double coming_to_rest_s = 0.5;
constexpr double clear_of_the_gate_s = 0.6;
constexpr double back_limit_s = 60;

asio::awaitable<bool> sees_edge(Rig& rig, EdgeFilter& filter, Instant until, bool blocked) {
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig.next_edge(until);
    if (!edge) co_return false;
    const std::optional<Passage> passage = filter.feed(*edge);
    if (passage && passage->blocked == blocked) co_return true;
  }
}

}  // namespace

asio::awaitable<bool> seen_to_move(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode) {
  EdgeFilter filter(static_cast<int>(track.gates.size()), track.quiet_s);
  const double unit = top_step(mode) / 28.0;  // steps for one of 28
  const Instant give_up = clock.now() + seconds(rising_s + track.length_mm / slowest_mm_s);
  ThrottleCommand command{0, Direction::forward, mode};
  double notch = first_notch - 1;  // of 28
  bool seen = false;
  while (!seen && clock.now() < give_up) {
    notch = std::min(notch + 1, highest_share * 28);
    command.step = std::max(static_cast<int>(notch * unit), 1);
    co_await rig.drive(command);
    const Instant until = clock.now() + seconds(notch < soon_share * 28 ? rise_s : slow_rise_s);
    seen = co_await sees_edge(rig, filter, until, true);
  }
  co_await rig.halt();
  if (!seen) co_return false;
  co_await clock.sleep_for(seconds(coming_to_rest_s));
  // Back before the gate, so that the next search meets the gates in their order. Momentum may take its time.
  command.direction = Direction::reverse;
  co_await rig.drive(command);
  const Instant until = clock.now() + seconds(back_limit_s);
  const bool clear = co_await sees_edge(rig, filter, until, false);
  if (clear) co_await clock.sleep_for(seconds(clear_of_the_gate_s));
  co_await rig.halt();
  command = ThrottleCommand{0, Direction::forward, mode};
  co_await rig.drive(command);
  co_await clock.sleep_for(seconds(coming_to_rest_s));
  co_return true;
}

}  // namespace lapwright
