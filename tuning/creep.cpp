#include "tuning/creep.h"

#include <algorithm>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double rise_s = 1.5;         // for each of 28 steps …
constexpr double first_notch = 4;      // … from this one on: below it few engines move
constexpr double soon_share = 0.36;    // of the steps: nearly every engine moves by then …
constexpr double highest_share = 0.6;  // … and what does not move at this one does not hear
constexpr double slow_rise_s = 4;
constexpr double rising_s = 60;       // until the highest step, and momentum
constexpr double slowest_mm_s = 150;  // of an engine at that step

}  // namespace

asio::awaitable<std::optional<Passage>> next_change(Rig& rig, EdgeFilter& filter, Instant deadline,
                                                    std::optional<bool> blocked) {
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig.next_edge(deadline);
    if (!edge) co_return std::nullopt;
    const std::optional<Passage> passage = filter.feed(*edge);
    if (passage && (!blocked || passage->blocked == *blocked)) co_return passage;
  }
}

asio::awaitable<void> let_pass(Rig& rig, EdgeFilter& filter, Instant until) {
  for (;;) {
    const std::optional<Passage> change = co_await next_change(rig, filter, until, std::nullopt);
    if (!change) co_return;
  }
}

asio::awaitable<bool> stays_in_the_beam(Rig& rig, Clock& clock, EdgeFilter& filter, int gate,
                                        std::deque<Passage>& others) {
  const Instant sure = clock.now() + seconds(in_the_beam_s);
  for (;;) {
    const std::optional<Passage> change = co_await next_change(rig, filter, sure, std::nullopt);
    if (!change) co_return !filter.unchanged(gate);
    if (change->gate != gate) others.push_back(*change);
    if (change->gate == gate && !change->blocked) co_return false;
  }
}

asio::awaitable<Crept> creep(Rig& rig, Clock& clock, EdgeFilter& filter, Creep how) {
  const double unit = top_step(how.mode) / 28.0;  // steps for one of 28
  const Instant give_up = clock.now() + seconds(rising_s + how.way_mm / slowest_mm_s);
  ThrottleCommand command{0, how.direction, how.mode};
  double notch = first_notch - 1;  // of 28
  Crept crept;
  while (clock.now() < give_up) {
    notch = std::min(notch + 1, highest_share * 28);
    command.step = std::max(static_cast<int>(notch * unit), 1);
    co_await rig.drive(command);
    const Instant until = clock.now() + seconds(notch < soon_share * 28 ? rise_s : slow_rise_s);
    crept.step = command.step;
    crept.seen = co_await next_change(rig, filter, until, true);
    const std::optional<double> current_mA = rig.track_current_mA();
    if (current_mA) crept.most_mA = std::max(*current_mA, crept.most_mA.value_or(0));
    if (!crept.seen) continue;
    std::deque<Passage> others;  // one that sees it as well tells nothing more
    const bool real = co_await stays_in_the_beam(rig, clock, filter, crept.seen->gate, others);
    if (real) break;
    crept.seen.reset();
  }
  co_return crept;
}

}  // namespace lapwright
