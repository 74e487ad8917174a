#include "tuning/inspector.h"

#include <algorithm>
#include <cmath>

#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double sheet_units = 18;
constexpr double counts_per_unit = 12;     // the table is not known: the sheet's speeds stand for drives
constexpr double locating_share = 0.4;     // of the sheet's top speed
constexpr double slowest_of_wanted = 0.3;  // of what it should run at
constexpr double patience = 2.2;
constexpr double grace_s = 5;
constexpr double steady_within = 0.06;  // head and tail
constexpr double settling_s = 0.8;
constexpr double flash_s = 0.1;  // within which it shows that a passage was none
constexpr double longest_engine_mm = 300;
constexpr double turn_lag_s = 0.5;
constexpr double further_out = 1.5;
constexpr double longest_run_out_s = 15;
constexpr int least_passes = 2;
constexpr int most_passes = 6;
constexpr int nimble_passes = 4;
constexpr int attempts_at_most = 4;
constexpr int rounds_to_locate = 3;
constexpr std::size_t passes_between_refits = 4;
constexpr double two_sided_z = 1.96;

double below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

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
  if (order.known) {
    ResponseScales known = *order.known;
    known.rounding = {};  // of drives, and these are none
    response_.assume(known);
  }
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

asio::awaitable<std::optional<Inspector::Timed>> Inspector::next_visit(double limit_s) {
  Visit visit(trap_);
  Instant quiet = clock_.now() + seconds(limit_s);
  std::optional<Instant> began;
  int first_gate = 0;
  std::array<bool, 2> blocked = {};
  std::optional<Visit::Finding> finding;
  second_head_.reset();
  for (;;) {
    const std::optional<GateEdge> edge = co_await rig_.next_edge(quiet);
    if (!edge) break;
    const std::optional<Passage> passage = filter_.feed(*edge);
    if (!passage) continue;
    const bool other_gate = began && passage->blocked && passage->gate != first_gate;
    if (other_gate && !second_head_) second_head_ = clock_.now();
    if (!began) first_gate = passage->gate;
    if (!began) began = clock_.now();
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
  co_await command(aim->step, Direction::forward);
  const double limit_s = order_.track.length_mm / (slowest_of_wanted * aim->speed_mm_s) +
                         settle_s(aim->step, Direction::forward) + grace_s;
  for (int round = 0; round < rounds_to_locate; ++round) {
    if (trap_.times_laps()) {
      const std::optional<Timed> lap = co_await next_lap(limit_s);
      if (lap && nimble()) hand_to_motion(lap->speed_mm_s);
      co_return lap.has_value();
    }
    const std::optional<Timed> visit = co_await next_visit(limit_s);
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
  const double out_s = run_out_s_ + share(cell.aim.step) * order_.momentum.gather_s;
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
      note(cell, timed->speed_mm_s, running_s());
      co_return true;
    }
    if (!round) {
      run_out_s_ = std::min(further_out * run_out_s_, longest_run_out_s);
      co_return false;
    }
  }
  co_return false;
}

void Inspector::note(Inspected& cell, double speed_mm_s, double passed_at_s) {
  ++cell.passes;
  ++result_.passes;
  cell.fruitless = 0;
  const double speed = speed_mm_s / unit_mm_s_;
  const double timing = std::sqrt(2.0) * order_.track.stamp_error_s * speed * speed_mm_s / trap_.base_mm;
  response_.add(
      Observation{cell.aim.speed_mm_s / unit_mm_s_ * counts_per_unit, cell.direction, speed, passed_at_s, timing});
  if (!order_.known && response_.size() % passes_between_refits == 0) response_.refit();
  if (const std::optional<double> current_mA = rig_.track_current_mA()) {
    result_.top_current_mA = std::max(result_.top_current_mA.value_or(0), *current_mA);
  }
  observer_.pass(cell.aim.step, cell.direction, speed_mm_s);
}

void Inspector::judge() {
  if (response_.size() == 0) return;
  std::vector<Query> queries;
  queries.reserve(cells_.size());
  for (const Inspected& cell : cells_) {
    queries.push_back({cell.aim.speed_mm_s / unit_mm_s_ * counts_per_unit, cell.direction});
  }
  const std::vector<Estimate> estimates = response_.warm(queries);
  const double base_share = order_.trap.base_error_mm / order_.trap.base_mm;
  int told_cells = 0;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    Inspected& cell = cells_[i];
    cell.estimate = estimates[i];
    const double wanted = cell.aim.speed_mm_s / unit_mm_s_;
    const double room = cell.aim.tolerance_mm_s / unit_mm_s_ - wanted * base_share;
    const double sd = std::hypot(cell.estimate.sd, response_.doubtful_sd(wanted));
    const double off = cell.estimate.mean - wanted;
    cell.chance = room <= 0 ? 0 : below((room - off) / sd) - below((-room - off) / sd);
    if (told(cell)) ++told_cells;
  }
  observer_.progress(told_cells, static_cast<int>(cells_.size()));
}

bool Inspector::told(const Inspected& cell) const {
  if (cell.fruitless >= attempts_at_most || cell.passes >= (nimble() ? nimble_passes : most_passes)) return true;
  return cell.passes >= (nimble() ? 1 : least_passes) &&
         (cell.chance >= order_.confidence || cell.chance <= 1 - order_.confidence);
}

bool Inspector::out_of_time() const { return in_seconds(clock_.now() - began_) > order_.budget_s; }

asio::awaitable<void> Inspector::run() {
  const bool found = co_await locate();
  if (!found) {
    throw TuneStopped{TuneEnd::engine_not_found,
                      "no gate saw the engine move at the steps that it was tuned for. Check that it stands on this "
                      "track, its address, that it is in no consist, and the gates"};
  }
  observer_.phase("measuring a spread of steps");
  for (;;) {
    // Few passes first, then as the engine runs already, then from slow to fast: it warms on the way.
    Inspected* next = nullptr;
    const auto passes_round = [&](const Inspected& cell) { return !nimble() && goes_round(cell); };
    const auto before = [&](const Inspected& a, const Inspected& b) {
      if (a.passes + a.fruitless != b.passes + b.fruitless) return a.passes + a.fruitless < b.passes + b.fruitless;
      const bool a_turns = passes_round(a) == (a.direction != direction_);
      const bool b_turns = passes_round(b) == (b.direction != direction_);
      return !a_turns && b_turns;
    };
    for (Inspected& cell : cells_) {
      if (!told(cell) && (next == nullptr || before(cell, *next))) next = &cell;
    }
    if (next == nullptr) break;
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
    co_await motion_.roll(settling_s);
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
  return result;
}

CellResult Inspector::report(const Inspected& cell) const {
  CellResult result;
  result.step = cell.aim.step;
  result.direction = cell.direction;
  result.target_mm_s = cell.aim.speed_mm_s;
  result.tolerance_mm_s = cell.aim.tolerance_mm_s;
  result.passes = cell.passes;
  if (cell.passes == 0) {
    result.shortfall = cell.fruitless >= attempts_at_most ? Shortfall::repeatability : Shortfall::interrupted;
    return result;
  }
  const double base_share = order_.trap.base_error_mm / order_.trap.base_mm;
  result.speed_mm_s = cell.estimate.mean * unit_mm_s_;
  result.half_width_mm_s = (two_sided_z * cell.estimate.sd + cell.estimate.mean * base_share) * unit_mm_s_;
  result.verdict = Verdict::marginal;
  if (cell.chance >= order_.confidence) result.verdict = Verdict::proved;
  if (cell.chance <= 1 - order_.confidence) result.verdict = Verdict::failed;
  if (result.verdict != Verdict::proved) result.shortfall = Shortfall::repeatability;
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
