#include "tests/schedules/faulty_board.h"

#include "tuning/rig_fault.h"

namespace lapwright::schedules {
namespace asio = boost::asio;
namespace {

constexpr Duration renew_every = std::chrono::milliseconds(100);
constexpr Duration vouch_lasts = std::chrono::milliseconds(50);
constexpr Duration old_current = std::chrono::milliseconds(300);
constexpr Duration answer_within = std::chrono::milliseconds(100);
constexpr Duration lease_is_over = std::chrono::milliseconds(500);
constexpr int questions = 3;  // without an answer, then the board's link is given up
constexpr double short_mA = 3400;
constexpr double stalled_mA = 1950;  // below the peak: only the mean of a minute tells
constexpr double top_mA = 5000;
constexpr double missed_share = 0.3;
constexpr double longest_chatter_s = 0.03;
const char* const silent_board = "the board did not answer three times";

}  // namespace

asio::awaitable<void> FaultyBoard::pass_edges() {
  constexpr Duration at_once = std::chrono::seconds(60);
  try {
    for (;;) {
      const Instant until = clock_.now() + at_once;
      const std::optional<GateEdge> edge = co_await rig_.next_edge(until);
      if (!edge || troubles_.at_gate(Kind::gate_dead, edge->gate)) continue;
      if (troubles_.on(Kind::edges_missed) && luck_.chance(missed_share)) continue;
      give(*edge);
    }
  } catch (const RigFault&) {
    // The railway was stopped: the schedule is over.
  }
}

asio::awaitable<void> FaultyBoard::chatter() {
  bool blocked = false;
  while (!stopped_) {
    for (const int gate : {0, 1}) {
      if (troubles_.at_gate(Kind::gate_chatters, gate)) edge(gate, blocked);
    }
    blocked = !blocked;
    const bool now = troubles_.on(Kind::gate_chatters);
    const Duration pause = now ? seconds(luck_.uniform(0.0005, longest_chatter_s)) : renew_every;
    co_await clock_.sleep_for(pause);
  }
}

void FaultyBoard::edge(int gate, bool blocked) {
  GateEdge edge;
  edge.gate = gate;
  edge.blocked = blocked;
  edge.counter_us = rig_.railway().board().counter_us(rig_.railway().now_s());
  edge.epoch = 1;
  edge.heard = clock_.now();
  give(edge);
}

void FaultyBoard::give(GateEdge edge) {
  if (!speaks()) return;
  last_of_gate_[static_cast<std::size_t>(edge.gate)] = edge;
  edges_.push_back(edge);
  bell_.ring();
}

bool FaultyBoard::gate_is_clear(int gate) const {
  constexpr Duration a_while = std::chrono::seconds(2);
  const std::optional<GateEdge>& last = last_of_gate_[static_cast<std::size_t>(gate)];
  return !last || (!last->blocked && clock_.now() - last->heard > a_while);
}

void FaultyBoard::stop() {
  stopped_ = true;
  bell_.ring();
}

asio::awaitable<std::optional<GateEdge>> FaultyBoard::next_edge(Instant deadline) {
  for (;;) {
    const std::string why = trouble();
    if (!why.empty()) throw RigFault(why);
    if (!edges_.empty()) break;
    if (clock_.now() >= deadline) co_return std::nullopt;
    co_await bell_.wait_until(clock_, deadline);
    co_await host_.awake();
  }
  GateEdge first = edges_.front();
  edges_.pop_front();
  first.heard = clock_.now();
  last_edge_ = clock_.now();
  co_return first;
}

double FaultyBoard::true_current_mA() const {
  if (!feed_.live()) return 0;
  if (troubles_.on(Kind::short_circuit)) return short_mA;
  if (troubles_.on(Kind::motor_stalled) && asked_.runs && !troubles_.on(Kind::engine_lifted)) return stalled_mA;
  return rig_.track_current_mA().value_or(0);
}

std::optional<double> FaultyBoard::current_mA() const {
  if (!speaks() && clock_.now() - silent_since_ > old_current) return std::nullopt;
  if (troubles_.on(Kind::sensor_dead)) return std::nullopt;
  if (troubles_.on(Kind::sensor_at_zero)) return 0;
  if (troubles_.on(Kind::sensor_at_top)) return top_mA;
  if (!rig_.track_current_mA()) return std::nullopt;  // before its first reading
  return true_current_mA();
}

void FaultyBoard::begins(const Fault& fault) {
  const bool loses_link = fault.kind == Kind::board_lost;
  if (loses_link || fault.kind == Kind::board_silent || fault.kind == Kind::board_mute) silent_since_ = clock_.now();
  if (!loses_link) return;
  leasing_ = false;
  if (lost_.empty()) lost_ = "the board's link is down";
  bell_.ring();
}

std::string FaultyBoard::trouble() const { return troubles_.on(Kind::board_lost) ? "the board's link is down" : lost_; }

asio::awaitable<void> FaultyBoard::keep_alive() {
  while (!stopped_) {
    const bool vouched = clock_.now() - vouched_ <= vouch_lasts;
    if (leasing_ && vouched && hears()) feed_.renew();
    unanswered_ = speaks() || !leasing_ ? 0 : unanswered_ + 1;
    if (unanswered_ >= questions && lost_.empty()) {
      leasing_ = false;
      lost_ = silent_board;
      bell_.ring();
    }
    co_await host_.sleep_for(renew_every);
  }
}

asio::awaitable<void> FaultyBoard::set_power(bool on) {
  if (on && troubles_.on(Kind::board_lost)) throw RigFault("the board's link is down");
  if (!on && troubles_.on(Kind::board_lost)) {
    leasing_ = false;
    co_await host_.sleep_for(lease_is_over);
    co_return;
  }
  if (!on) cut();
  if (!speaks()) {
    co_await host_.sleep_for(questions * answer_within);
    throw RigFault(silent_board);
  }
  if (!on) co_return;
  lost_.clear();
  unanswered_ = 0;
  leasing_ = true;
  vouched_ = clock_.now();
  feed_.renew();
  feed_.close_relay();
}

void FaultyBoard::cut() {
  leasing_ = false;
  if (hears()) feed_.open_relay();
}

}  // namespace lapwright::schedules
