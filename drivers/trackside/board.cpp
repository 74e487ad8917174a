#include "drivers/trackside/board.h"

#include <algorithm>

#include "drivers/turn.h"
#include "tuning/rig_fault.h"

namespace lapwright::trackside {
namespace asio = boost::asio;
namespace {

constexpr Duration renew_every = std::chrono::milliseconds(100);
constexpr Duration ask_time_every = std::chrono::seconds(1);  // while nothing is energised
constexpr Duration vouch_lasts = std::chrono::milliseconds(50);
constexpr Duration look_again = std::chrono::milliseconds(10);
constexpr Duration answer_within = std::chrono::milliseconds(100);
constexpr Duration relay_within = std::chrono::milliseconds(250);  // two state lines
constexpr Duration lease_is_over = std::chrono::milliseconds(500);
constexpr Duration leap = std::chrono::seconds(1);  // more than that the counter does not run ahead of the host's clock
constexpr Duration old_current = std::chrono::milliseconds(300);
constexpr int tries_at_most = 3;
constexpr std::size_t most_edges = 10000;  // that nobody fetched; older ones are dropped then
constexpr std::string_view to_close = "1";
constexpr int lines_judged = 100;
constexpr int bad_lines_at_most = 20;  // of those; then the link is given up

/// Faults that a stop of the host's own leaves behind; the others are for a person to look into.
bool clears_itself(char fault) { return fault == 'l' || fault == 'h' || fault == 't'; }

/// The lease that closing begins: it ends unless the relay was seen closed, also when the coroutine is cancelled.
/// Perhaps it closed and only its answer was lost: then the lease that runs out opens it again.
class NewLease {
 public:
  explicit NewLease(bool& renewed) : renewed_(renewed) { renewed_ = true; }
  ~NewLease() {
    if (!kept_) renewed_ = false;
  }
  NewLease(const NewLease&) = delete;
  NewLease& operator=(const NewLease&) = delete;
  void keep() { kept_ = true; }

 private:
  bool& renewed_;
  bool kept_ = false;
};

}  // namespace

Board::Board(BoardWish wish, Clock& clock) : introduction_(std::move(wish)), clock_(clock) {}

void Board::opened(Outlet& outlet) {
  outlet_ = &outlet;
  reader_.begin_anew();
  bad_before_ = reader_.counts().bad;
  recent_lines_ = recent_bad_ = 0;
  forget_board();
  bell_.ring();
}

void Board::lost(const std::string& why) {
  outlet_ = nullptr;
  why_down_ = "the board's link is down: " + why;
  opened_itself(StopReason::rig_lost, why_down_);
  forget_board();
  bell_.ring();
}

void Board::forget_board() {
  ++epoch_;
  time_ = BoardClock();
  introduction_.forget();
  state_.reset();
  edges_lost_ = 0;
}

void Board::opened_itself(StopReason reason, const std::string& why) {
  leasing_ = false;
  if (!closed_) return;
  closed_ = false;
  if (!fault_) fault_ = Stop{reason, why};
}

void Board::was_reset() {
  opened_itself(StopReason::rig_lost, "the board was reset while the track was energised");
  forget_board();
}

void Board::stop() {
  stopped_ = true;
  bell_.ring();
}

struct Board::Hearing {
  Board& board;
  Instant heard;

  void operator()(const Hello& hello) const {
    if (!board.introduction_.is_new(hello)) return;
    if (board.introduction_.named()) board.was_reset();
    board.introduction_.hear(hello);
  }
  void operator()(const Setting& setting) const { board.introduction_.hear(setting); }
  void operator()(const Edge& edge) const {
    board.edges_lost_ = edge.lost;
    const auto wanted =
        std::find(board.introduction_.wish().gates.begin(), board.introduction_.wish().gates.end(), edge.gate);
    if (wanted == board.introduction_.wish().gates.end()) return;
    if (board.edges_.size() == most_edges) board.edges_.pop_front();
    const int gate = static_cast<int>(wanted - board.introduction_.wish().gates.begin());
    board.edges_.push_back(
        GateEdge{gate, edge.blocked, board.time_.corrected_us(edge.stamp_us), board.epoch_, heard, edge.lost});
  }
  void operator()(const State& state) const {
    // The hello after a boot is lost easily: the line that the reset tore is glued to it. The counter tells.
    if (board.state_) {
      const auto passed = std::chrono::microseconds(static_cast<std::int32_t>(state.stamp_us - board.state_->stamp_us));
      if (passed < Duration{} || passed > heard - board.state_heard_ + leap) board.was_reset();
    }
    board.introduction_.see_lease(state.lease_ms);
    board.state_ = state;
    board.state_heard_ = heard;
    board.edges_lost_ = state.lost;
    if (board.closed_ && !state.relay_closed)
      board.opened_itself(stop_reason(state.fault), "the board opened its relay: " + describe_fault(state.fault));
  }
  void operator()(const Answer& answer) const {
    if (!board.asking_ || answer.of != static_cast<std::uint8_t>(board.sequence_ - 1)) return;  // too late
    board.answer_ = answer;
    board.time_.note(board.asked_, heard, answer.stamp_us);
  }
};

void Board::received(std::string_view bytes, Instant heard) {
  reader_.feed(bytes);
  const std::uint64_t bad = reader_.counts().bad;
  for (; bad_before_ < bad; ++bad_before_) judge_line(false);
  while (const auto line = reader_.next()) {
    const auto message = understood(*line);
    judge_line(message.has_value());
    if (message) std::visit(Hearing{*this, heard}, *message);
  }
  bell_.ring();
}

void Board::judge_line(bool good) {
  ++recent_lines_;
  if (!good) ++recent_bad_;
  if (recent_bad_ > bad_lines_at_most && outlet_ != nullptr) {
    outlet_->give_up("more than " + std::to_string(bad_lines_at_most) + " unreadable lines of " +
                     std::to_string(lines_judged) + "; check the baud rate and the wiring");
    recent_bad_ = recent_lines_ = 0;
  }
  if (recent_lines_ < lines_judged) return;
  recent_lines_ = recent_bad_ = 0;
}

std::string Board::trouble() const {
  if (outlet_ == nullptr) return why_down_;
  std::string of_itself = introduction_.trouble();
  if (!of_itself.empty()) return of_itself;
  return fault_ ? fault_->sentence : std::string();
}

std::optional<double> Board::left_s() const {
  const std::optional<int> longest_s = introduction_.energised_s();
  if (!closed_ || !longest_s || !state_) return std::nullopt;
  return *longest_s - state_->energised_s;
}

std::optional<Stop> Board::lost() const {
  if (fault_) return fault_;
  const std::string in_the_way = trouble();
  if (in_the_way.empty()) return std::nullopt;
  return Stop{StopReason::rig_lost, in_the_way};
}

std::optional<double> Board::track_current_mA() const {
  if (!state_ || clock_.now() - state_heard_ > old_current) return std::nullopt;
  return state_->current_mA;
}

void Board::check_link() const {
  if (outlet_ == nullptr) throw RigFault(why_down_);
  if (stopped_) throw RigFault("the board is no longer served; start the service anew");
}

asio::awaitable<std::optional<Answer>> Board::ask_once(char kind, const std::string& fields) {
  while (asking_) {
    co_await bell_.wait();
    check_link();
  }
  check_link();
  const Turn turn(asking_, bell_);
  if (kind == 'P' && fields == to_close) check_closing();  // the last look before the track can become live
  answer_.reset();
  asked_ = clock_.now();
  outlet_->send(written(kind, sequence_++, fields));
  const Instant deadline = asked_ + answer_within;
  while (!answer_ && clock_.now() < deadline) {
    co_await bell_.wait_until(clock_, deadline);
    check_link();
  }
  co_return answer_;
}

asio::awaitable<Answer> Board::ask(char kind, std::string fields) {
  for (int tries = 0; tries < tries_at_most; ++tries) {
    const std::optional<Answer> answer = co_await ask_once(kind, fields);
    if (answer) co_return *answer;
  }
  throw RigFault(std::string("the board did not answer to the line ") + kind + ", " + std::to_string(tries_at_most) +
                 " times");
}

asio::awaitable<void> Board::run() {
  while (!stopped_) {
    if (outlet_ == nullptr) {
      co_await bell_.wait();
      continue;
    }
    try {
      co_await keep_alive();
    } catch (const RigFault& fault) {
      // A board that does not answer is as good as a lost one; the link tells everybody and is opened anew.
      if (outlet_ != nullptr) outlet_->give_up(fault.what());
    }
    co_await until_next_question();
  }
}

asio::awaitable<void> Board::until_next_question() {
  const Instant asked = asked_;
  while (!stopped_ && outlet_ != nullptr) {
    const bool often = leasing_ || !introduction_.complete();
    Instant due = asked + (often ? renew_every : ask_time_every);
    const bool is_due = clock_.now() >= due;
    if (is_due && may_renew()) co_return;
    if (is_due) due = clock_.now() + look_again;
    co_await bell_.wait_until(clock_, due);
  }
}

/// Whoever watches over a live track has to be awake: a loop that still turns is not enough.
bool Board::may_renew() const { return !closed_ || clock_.now() - vouched_ <= vouch_lasts; }

asio::awaitable<void> Board::keep_alive() {
  const char kind = introduction_.complete() ? 'L' : 'I';
  const std::string nothing;
  co_await ask(kind, nothing);
}

asio::awaitable<bool> Board::relay_becomes(bool closed) {
  const Instant deadline = clock_.now() + relay_within;
  while (clock_.now() < deadline) {
    if (state_ && state_->relay_closed == closed) co_return true;
    co_await bell_.wait_until(clock_, deadline);
    check_link();
  }
  co_return false;
}

asio::awaitable<void> Board::set_power(bool on) {
  if (on) {
    co_await close_relay();
  } else {
    co_await open_relay();
  }
}

asio::awaitable<void> Board::clear_fault(std::optional<StopReason> only) {
  const bool latched = outlet_ != nullptr && state_ && state_->fault != '-';
  if (only && latched && !clears_itself(state_->fault) && stop_reason(state_->fault) != *only) {
    throw RigFault("the board has latched another fault, which waits for a person: " + describe_fault(state_->fault));
  }
  fault_.reset();
  if (!latched) co_return;
  const std::string nothing;
  const Answer answer = co_await ask('C', nothing);
  if (answer.result == "ok") co_return;
  throw RigFault("the board keeps its fault, " + describe_fault(state_->fault) + ": " + answer.result +
                 ". Remove its cause first");
}

asio::awaitable<void> Board::close_relay() {
  check_link();
  fault_.reset();
  const std::string in_the_way = trouble();
  if (!in_the_way.empty()) throw RigFault(in_the_way);
  const std::string nothing;
  if (state_ && state_->fault != '-') {
    if (!clears_itself(state_->fault)) {
      throw RigFault("the board has latched a fault: " + describe_fault(state_->fault) +
                     ". Find the cause, then press the board's reset");
    }
    co_await ask('C', nothing);
  }
  NewLease lease(leasing_);
  const Answer leased = co_await ask('L', nothing);
  if (leased.result != "ok") throw RigFault("the board refused the lease: " + leased.result);
  const std::string closing(to_close);
  const Answer answer = co_await ask('P', closing);
  const bool done = answer.result == "ok";
  bool seen = false;
  if (done) seen = co_await relay_becomes(true);
  if (seen) {
    check_closing();
    lease.keep();
    closed_ = true;
    vouch();
    co_return;
  }
  const std::string why = state_ && state_->fault != '-' ? describe_fault(state_->fault) : answer.result;
  throw RigFault(done ? "the board's relay did not close: " + why : "the board refused to close its relay: " + why);
}

void Board::check_closing() const {
  check_link();
  if (!leasing_) {
    throw RigFault(
        "the board was reset, or the power was switched off, while its relay was being closed; ask for the power anew");
  }
  const std::string in_the_way = trouble();
  if (!in_the_way.empty()) throw RigFault(in_the_way);
}

asio::awaitable<void> Board::open_relay() {
  leasing_ = false;
  closed_ = false;
  if (outlet_ == nullptr) {  // nobody renews the lease any more: the board opens it by itself
    co_await clock_.sleep_for(lease_is_over);
    co_return;
  }
  const std::string opening = "0";
  const std::optional<Answer> answer = co_await ask_once('P', opening);
  bool open = false;
  if (answer) open = co_await relay_becomes(false);
  if (open) co_return;
  cut();
  open = co_await relay_becomes(false);
  if (!open) throw RigFault("the board's relay did not open; switch the supply off by hand");
}

void Board::cut() {
  leasing_ = false;
  closed_ = false;
  if (outlet_ == nullptr) return;
  try {
    outlet_->cut_in(std::string_view(&cut_byte, 1));
  } catch (const RigFault&) {
    // The link was given up and `lost` is about to come: the lease runs out.
  }
}

asio::awaitable<std::optional<GateEdge>> Board::next_edge(Instant deadline) {
  for (;;) {
    check_link();
    if (fault_) throw RigFault(fault_->sentence);
    if (!edges_.empty()) break;
    if (clock_.now() >= deadline) co_return std::nullopt;
    co_await bell_.wait_until(clock_, deadline);
  }
  const GateEdge first = edges_.front();
  edges_.pop_front();
  co_return first;
}

}  // namespace lapwright::trackside
