// The way to a pass: back to a run-up before the trap, round the loop where that is shorter or the only way, a sprint.
#include <algorithm>
#include <cmath>

#include "tuning/motion.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double slack_mm = 2;  // of dead reckoning, on top of a share of the distance
constexpr double slack_share = 0.04;
constexpr double kick_s = 0.12;
constexpr double worth_a_sprint_s = 0.8;
constexpr double longest_run_up_share = 0.4;  // of a loop: further back, the other way round would be the shorter one
constexpr double shortest_run_up_share = 0.1;

}  // namespace

double Motion::run_up_mm(const PassOrder& order) const {
  return order.expected_mm_s * order.run_up_s + slack_mm + order.kick_mm_s * kick_s;
}

asio::awaitable<void> Motion::back_off(PassOrder order, double need_mm) {
  const Direction away = opposite(order.direction);
  const double missing_mm = need_mm - ahead_mm(order.direction);
  const double turn_mm = (order.expected_mm_s) * reckoning_.lag_s();  // what the turn itself adds, at least
  // The shorter the way, the slower: a fast step over a few millimetres lands anywhere.
  const double wish_mm_s = std::max(missing_mm - turn_mm, 1.0) / 0.35;
  int step = book_.step_near(wish_mm_s, away);
  double speed = book_.get(step, away);
  const bool moving_away = step_ > 0 && direction_ == away;
  if (moving_away && std::abs(reckoning_.velocity_mm_s()) >= 0.5 * speed) {  // no need for a change on the way
    step = step_;
    speed = std::abs(reckoning_.velocity_mm_s());
  }
  if (step == 0 || speed <= 0) co_return;
  co_await command(step, away, speed);
  const double after_turn_mm = (speed + order.expected_mm_s) * reckoning_.lag_s();
  double distance_mm = (need_mm - ahead_mm(order.direction)) * (1 + slack_share) - after_turn_mm;
  distance_mm = std::min(distance_mm, room_behind_mm(order.direction) - 1.5 * speed * reckoning_.lag_s() - 20);
  if (distance_mm > 0) co_await roll(distance_mm / speed);
}

double Motion::lap_ahead_mm(Direction direction) const {
  const double ahead = ahead_mm(direction);
  return ahead > 0 ? ahead : ahead + track_.length_mm;
}

bool Motion::goes_round(const PassOrder& order, double need_mm) const {
  if (track_.shape != TrackShape::loop || trap_.times_laps()) return false;
  if (need_mm > longest_run_up_share * track_.length_mm) return true;
  const bool under_way = step_ > 0 && direction_ == order.direction;
  const double ahead = ahead_mm(order.direction);
  if (!under_way || ahead >= need_mm) return false;
  const double lap = lap_ahead_mm(order.direction);
  return lap >= need_mm && lap < 2 * (need_mm - ahead) + need_mm;
}

asio::awaitable<void> Motion::go_round(PassOrder order, double need_mm) {
  co_await command(order.step, order.direction, order.expected_mm_s);
  double way_mm = lap_ahead_mm(order.direction);
  while (way_mm < need_mm) way_mm += track_.length_mm;
  way_mm -= longest_run_up_share * track_.length_mm;
  if (way_mm > 0) co_await roll(way_mm / order.expected_mm_s);
  // What the gates said on the way may have put the engine elsewhere; the trap is to be read from before its entry.
  for (int part = 0; part < 20 && ahead_mm(order.direction) < shortest_run_up_share * track_.length_mm; ++part) {
    const double part_mm = 0.1 * track_.length_mm;
    co_await roll(part_mm / order.expected_mm_s);
  }
}

asio::awaitable<void> Motion::approach(PassOrder order) {
  const double need_mm = run_up_mm(order);
  if (goes_round(order, need_mm)) {
    co_await go_round(order, need_mm);
    co_return;
  }
  if (ahead_mm(order.direction) + (order.expected_mm_s) * reckoning_.lag_s() < need_mm ||
      direction_ != order.direction) {
    if (ahead_mm(order.direction) < need_mm) co_await back_off(order, need_mm);
  }
  const double spare_mm = ahead_mm(order.direction) - need_mm;
  const int sprint = book_.step_near(spare_mm / 0.5, order.direction);
  const double sprint_mm_s = book_.get(sprint, order.direction);
  if (sprint_mm_s > 1.5 * order.expected_mm_s && spare_mm > worth_a_sprint_s * order.expected_mm_s) {
    co_await command(sprint, order.direction, sprint_mm_s);
    const double drop_mm = (sprint_mm_s - order.expected_mm_s) * reckoning_.lag_s();
    const double distance_mm = (ahead_mm(order.direction) - need_mm) * (1 - slack_share) - drop_mm;
    if (distance_mm > 0) co_await roll(distance_mm / sprint_mm_s);
  } else if (order.kick_mm_s > 0 && direction_ != order.direction) {
    const int kick = book_.step_near(order.kick_mm_s, order.direction);
    const double kick_mm_s = book_.get(kick, order.direction);
    if (kick_mm_s > order.expected_mm_s) {
      co_await command(kick, order.direction, kick_mm_s);
      co_await roll(kick_s);
    }
  }
}

}  // namespace lapwright
