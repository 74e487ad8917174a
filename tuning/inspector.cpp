#include "tuning/inspector.h"

#include <algorithm>
#include <cmath>

#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double sheet_units = 18;
constexpr double locating_share = 0.4;     // of the sheet's top speed
constexpr double slowest_of_wanted = 0.3;  // of what it should run at …
constexpr double slowest_of_known = 0.6;   // … and of what its table is known to make of it
constexpr double patience = 2.2;
constexpr double grace_s = 5;
constexpr double as_known = 0.08;       // by which a head may differ from the speed that its engine is known to have
constexpr double steady_within = 0.06;  // head and tail
constexpr double flash_s = 0.1;         // within which it shows that a passage was none
constexpr double further_out = 1.5;
constexpr double longest_run_out_s = 15;
constexpr int rounds_to_locate = 3;

}  // namespace

Inspector::Inspector(Rig& rig, Clock& clock, const InspectionOrder& order, TuneObserver& observer)
    : rig_(rig),
      clock_(clock),
      order_(order),
      observer_(observer),
      trap_(order.trap),
      unit_mm_s_(order.top_mm_s / sheet_units),
      filter_(static_cast<int>(order.track.gates.size()), order.track.quiet_s),
      motion_(rig, clock, order.track, order.mode),
      began_(clock.now()) {
  assume_what_is_known();
  for (const StepAim& aim : order.steps) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      cells_.emplace_back();
      cells_.back().aim = aim;
      cells_.back().direction = direction;
    }
  }
}

double Inspector::running_s() const { return running_s_ + (step_ > 0 ? in_seconds(clock_.now() - running_since_) : 0); }

double Inspector::share(int step) const { return static_cast<double>(step) / top_step(order_.mode); }

double Inspector::settle_s(int step, Direction direction) const {
  const bool turns = direction != direction_;
  const double gained = turns ? share(step) : std::max(share(step) - share(step_), 0.0);
  const double lost = turns ? share(step_) : std::max(share(step_) - share(step), 0.0);
  return settling_s + gained * order_.momentum.gather_s + lost * order_.momentum.brake_s + (turns ? turn_lag_s : 0);
}

asio::awaitable<void> Inspector::command(int step, Direction direction) {
  if (step == step_ && direction == direction_) co_return;
  const ThrottleCommand throttle{step, direction, order_.mode};
  co_await rig_.drive(throttle);
  settled_at_ = clock_.now() + seconds(settle_s(step, direction));
  running_s_ = running_s();
  running_since_ = clock_.now();
  step_ = step;
  direction_ = direction;
}

asio::awaitable<void> Inspector::roll(double length_s) {
  const Instant until = clock_.now() + seconds(length_s);
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig_.next_edge(until);
    if (!edge) co_return;
    static_cast<void>(filter_.feed(*edge));
  }
}

asio::awaitable<std::optional<Inspector::Timed>> Inspector::next_visit(double limit_s, double known_mm_s) {
  Visit visit(trap_);
  Instant quiet = clock_.now() + seconds(limit_s);
  std::optional<Instant> began;
  int first_gate = 0;
  std::array<bool, 2> blocked = {};
  double first_head_s = 0;
  bool clear_at_first = true;  // of the whole engine
  std::optional<Visit::Finding> finding;
  second_head_.reset();
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig_.next_edge(quiet);
    if (!edge) break;
    const std::optional<Passage> passage = filter_.feed(*edge);
    if (!passage) continue;
    const bool other_gate = began && passage->blocked && passage->gate != first_gate;
    const bool second_head = other_gate && !second_head_;
    if (second_head) second_head_ = clock_.now();
    if (!began) {
      first_gate = passage->gate;
      first_head_s = passage->at_s;
      began = clock_.now();
      clear_at_first = passage->blocked;
    }
    if (second_head && clear_at_first) {
      const double speed_mm_s = trap_.base_mm / (passage->at_s - first_head_s);
      if (std::abs(speed_mm_s - known_mm_s) < as_known * known_mm_s) {
        co_return Timed{speed_mm_s, *began >= settled_at_, first_gate == trap_.low_gate};
      }
    }
    visit.feed(*passage);
    if (passage->gate == trap_.low_gate) blocked[0] = passage->blocked;
    if (passage->gate == trap_.high_gate) blocked[1] = passage->blocked;
    finding = visit.finding();
    double quiet_s = visit.quiet_s();
    // Head and tail have passed both gates: only an opening can still come.
    if (finding && !blocked[0] && !blocked[1]) quiet_s = longest_opening_mm / finding->speed_mm_s;
    quiet = clock_.now() + seconds(quiet_s);
  }
  seen_nothing_ = !began;
  if (!finding) co_return std::nullopt;
  Timed timed;
  timed.speed_mm_s = finding->speed_mm_s;
  timed.steady = *began >= settled_at_ && finding->unsteady < steady_within;
  timed.low_came_first = finding->low_came_first;
  co_return timed;
}

/// One gate: from one coming of the head to the next, once around.
asio::awaitable<std::optional<Inspector::Timed>> Inspector::next_lap(double limit_s) {
  const double shortest_s = trap_.base_mm / (sheet_units * unit_mm_s_ * patience);
  std::optional<double> came_s;
  Instant came{};
  const Instant until = clock_.now() + seconds(2 * limit_s);
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig_.next_edge(until);
    if (!edge) co_return std::nullopt;
    const std::optional<Passage> passage = filter_.feed(*edge);
    if (!passage || !passage->blocked || passage->gate != trap_.low_gate) continue;
    if (came_s && filter_.taken_back() && filter_.taken_back()->at_s == *came_s) came_s.reset();
    if (came_s && passage->at_s - *came_s < shortest_s) continue;  // an opening
    if (came_s) {
      co_await roll(flash_s);
      if (filter_.unchanged(trap_.low_gate)) continue;
      Timed timed;
      timed.speed_mm_s = trap_.base_mm / (passage->at_s - *came_s);
      timed.steady = came >= settled_at_;
      co_return timed;
    }
    came_s = passage->at_s;
    came = clock_.now();
  }
}

asio::awaitable<bool> Inspector::locate() {
  observer_.phase("looking for the engine");
  const StepAim* aim = &order_.steps.front();
  for (const StepAim& each : order_.steps) {
    if (nimble() || each.speed_mm_s <= locating_share * order_.top_mm_s) aim = &each;
  }
  co_await roll(0);  // what the gates saw before it was commanded
  co_await command(aim->step, Direction::forward);
  const double slowest = trusts_earlier_ ? slowest_of_known : slowest_of_wanted;
  const double limit_s =
      order_.track.length_mm / (slowest * aim->speed_mm_s) + settle_s(aim->step, Direction::forward) + grace_s;
  for (int round = 0; round < rounds_to_locate; ++round) {
    if (trap_.times_laps()) {
      const std::optional<Timed> lap = co_await next_lap(limit_s);
      if (lap && nimble()) hand_to_motion(lap->speed_mm_s);
      co_return lap.has_value();
    }
    const double known_mm_s = trusts_earlier_ && nimble() ? expected_mm_s(*aim, Direction::forward) : 0;
    const std::optional<Timed> visit = co_await next_visit(limit_s, known_mm_s);
    if (!visit && seen_nothing_) co_return false;
    if (!visit) continue;
    if (!visit->low_came_first) std::swap(trap_.low_gate, trap_.high_gate);
    if (nimble()) hand_to_motion(visit->speed_mm_s);
    for (Inspected& cell : cells_) {
      const bool timed = cell.aim.step == step_ && cell.direction == direction_ && visit->steady;
      if (nimble() && timed) note(cell, visit->speed_mm_s, running_s());
    }
    co_return true;
  }
  co_return false;
}

bool Inspector::goes_round(const Inspected& cell) const {
  if (trap_.times_laps()) return true;
  if (order_.track.shape != TrackShape::loop) return false;
  const double lap_s = order_.track.length_mm / cell.aim.speed_mm_s;
  const double turns_s = 2 * (run_out_s_ + settling_s + turn_lag_s) +
                         share(cell.aim.step) * 2 * (order_.momentum.gather_s + order_.momentum.brake_s);
  return lap_s < (trap_.base_mm + longest_engine_mm) / cell.aim.speed_mm_s + turns_s;
}

/// Beyond the trap as far as the new step needs to be steady when it comes back.
asio::awaitable<void> Inspector::go_out(const Inspected& cell) {
  co_await command(cell.aim.step, opposite(cell.direction));
  const double out_s = run_out_s(cell);
  co_await roll(out_s);
}

/// It is beyond the trap on the side that it would have to come to.
asio::awaitable<void> Inspector::cross_back(const Inspected& cell) {
  co_await command(cell.aim.step, opposite(cell.direction));
  const double wait_s = in_seconds(std::max(settled_at_ - clock_.now(), Duration{}));
  const double way_mm = trap_.base_mm + 2 * longest_engine_mm;
  const double limit_s = patience * (way_mm / cell.aim.speed_mm_s + run_out_s_) + grace_s + 2 * wait_s;
  const std::optional<Timed> unused = co_await next_visit(limit_s);
  static_cast<void>(unused);
}

asio::awaitable<bool> Inspector::measure(Inspected& cell) {
  const bool round = goes_round(cell);
  if (!round && direction_ == cell.direction) co_await cross_back(cell);
  if (!round) co_await go_out(cell);
  co_await command(cell.aim.step, cell.direction);
  const double way_mm = round ? order_.track.length_mm : trap_.base_mm + 2 * longest_engine_mm;
  const double limit_s = patience * (way_mm / cell.aim.speed_mm_s + 2 * run_out_s_) + grace_s +
                         2 * in_seconds(std::max(settled_at_ - clock_.now(), Duration{}));
  for (int visits = 0; visits < rounds_to_locate; ++visits) {
    std::optional<Timed> timed;
    if (trap_.times_laps()) {
      timed = co_await next_lap(limit_s);
    } else {
      timed = co_await next_visit(limit_s);
    }
    if (!timed) break;
    if (timed->steady) {
      co_return note(cell, timed->speed_mm_s, running_s());
    }
    if (!round) {
      run_out_s_ = std::min(further_out * run_out_s_, longest_run_out_s);
      co_return false;
    }
  }
  co_return false;
}

bool Inspector::out_of_time() const { return in_seconds(clock_.now() - began_) > order_.budget_s; }

/// Few passes first, then as the engine runs already, then from slow to fast: it warms on the way. Without momentum
/// from fast to slow: the locating pass was a fast one, and the way from one step to the next is short.
Inspector::Inspected* Inspector::next_cell() {
  Inspected* next = nullptr;
  const auto passes_round = [&](const Inspected& cell) { return !nimble() && goes_round(cell); };
  const auto before = [&](const Inspected& a, const Inspected& b) {
    if (a.passes + a.fruitless != b.passes + b.fruitless) return a.passes + a.fruitless < b.passes + b.fruitless;
    const bool a_turns = passes_round(a) == (a.direction != direction_);
    const bool b_turns = passes_round(b) == (b.direction != direction_);
    return !a_turns && b_turns;
  };
  const auto look_at = [&](Inspected& cell) {
    if (!told(cell) && (next == nullptr || before(cell, *next))) next = &cell;
  };
  if (nimble()) {
    std::ranges::for_each(cells_.rbegin(), cells_.rend(), look_at);
  } else {
    std::ranges::for_each(cells_, look_at);
  }
  const bool all_tried = next != nullptr && next->passes > 0;
  return all_tried && trusts_earlier_ ? most_telling() : next;
}

asio::awaitable<void> Inspector::run() {
  const bool found = co_await locate();
  if (!found) {
    throw TuneStopped{TuneEnd::engine_not_found,
                      "no gate saw the engine move at the steps that it was tuned for. Check that it stands on this "
                      "track, its address, that it is in no consist, and the gates"};
  }
  observer_.phase("measuring a spread of steps");
  for (;;) {
    Inspected* next = next_cell();
    if (next == nullptr || is_lost()) break;
    if (out_of_time()) {
      throw TuneStopped{TuneEnd::budget_spent, "the track time allowed for this engine is spent"};
    }
    bool came = false;
    if (nimble()) {
      came = co_await measure_nimbly(*next);
    } else {
      came = co_await measure(*next);
    }
    if (!came) ++next->fruitless;
    judge();
  }
}

asio::awaitable<void> Inspector::come_to_rest() {
  if (nimble() && !located_mm_) {
    co_await motion_.stand();
    co_await motion_.roll(standstill_s);
    co_return;
  }
  co_await command(0, direction_);
  const double rest_s = in_seconds(std::max(settled_at_ - clock_.now(), Duration{}));
  co_await roll(rest_s);
}

TuneResult Inspector::result() const {
  TuneResult result = result_;
  for (const Inspected& cell : cells_) result.cells.push_back(report(cell));
  if (!order_.known && response_.size() > 0) result.scales = response_.scales();
  result.track_s = in_seconds(clock_.now() - began_);
  if (nimble() && trusts_earlier_ && !located_mm_ && !passed_.empty()) {
    result.left = ProofLeft{motion_.position_mm(), trap_.low_gate == order_.trap.low_gate, passed_};
  }
  return result;
}

asio::awaitable<TuneResult> inspect(Rig& rig, Clock& clock, const InspectionOrder& order, TuneObserver& observer) {
  Inspector inspector(rig, clock, order, observer);
  std::optional<TuneStopped> stopped;
  try {
    co_await inspector.run();
  } catch (const TuneStopped& why) {
    stopped = why;
  }
  co_await inspector.come_to_rest();
  TuneResult result = inspector.result();
  if (stopped) {
    result.end = stopped->end;
    result.detail = stopped->detail;
  }
  co_return result;
}

}  // namespace lapwright
