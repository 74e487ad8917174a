#include "tuning/presence.h"

#include "tuning/creep.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double coming_to_rest_s = 0.5;
constexpr double clear_of_the_gate_s = 0.6;
constexpr double back_limit_s = 60;

}  // namespace

asio::awaitable<bool> seen_to_move(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode) {
  EdgeFilter filter(static_cast<int>(track.gates.size()), track.quiet_s);
  const Creep way{Direction::forward, mode, track.length_mm};
  const Crept came = co_await creep(rig, clock, filter, way);
  co_await rig.halt();
  if (!came.seen) co_return false;
  co_await clock.sleep_for(seconds(coming_to_rest_s));
  // Back before the gate, so that the next search meets the gates in their order. Momentum may take its time.
  const ThrottleCommand back{came.step, Direction::reverse, mode};
  co_await rig.drive(back);
  const Instant until = clock.now() + seconds(back_limit_s);
  const std::optional<Passage> clear = co_await next_change(rig, filter, until, false);
  const Instant out_of_it = clock.now() + seconds(clear_of_the_gate_s);
  if (clear) co_await let_pass(rig, filter, out_of_it);
  co_await rig.halt();
  const ThrottleCommand stand{0, Direction::forward, mode};
  co_await rig.drive(stand);
  const Instant at_rest = clock.now() + seconds(coming_to_rest_s);
  co_await let_pass(rig, filter, at_rest);
  co_return true;
}

}  // namespace lapwright
