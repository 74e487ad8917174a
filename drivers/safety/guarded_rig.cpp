#include "drivers/safety/guarded_rig.h"

#include <algorithm>
#include <array>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include "drivers/safety/whole_number.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(10);
constexpr int tries_to_cut = 10;
constexpr Duration before_next_try = std::chrono::seconds(1);  // a lost link may be back by then
constexpr std::size_t most_edges = 10000;  // that the procedure did not fetch; older ones are dropped then
constexpr Duration sensor_within = std::chrono::seconds(1);
constexpr Duration halt_first = std::chrono::milliseconds(20);  // two packets for the engine, also while others are due
constexpr Duration longest_wait = std::chrono::milliseconds(500);  // for an edge, before it is asked for anew

/// So that two who make the track dead don't do it to each other; also when one of them is cancelled.
class AtIt {
 public:
  explicit AtIt(int& count) : count_(count) { ++count_; }
  ~AtIt() { --count_; }
  AtIt(const AtIt&) = delete;
  AtIt& operator=(const AtIt&) = delete;

 private:
  int& count_;
};

}  // namespace

GuardedRig::GuardedRig(Rig& rig, TrackPower& power, Clock& clock, GuardLimits limits)
    : rig_(rig),
      power_(power),
      clock_(clock),
      limits_(std::move(limits)),
      current_(limits_.current),
      motion_(limits_.motion) {}

asio::awaitable<void> GuardedRig::power_up() {
  check(StopAction::park);
  if (!limits_.accept_no_current_sensor || rig_.track_current_mA()) co_await prove_sensor();
  check(StopAction::park);
  try {
    co_await power_.set_power(true);
    powered_ = true;
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

/// With the track still dead: a sensor that is stuck, a relay that is welded, or another feed shows now.
asio::awaitable<void> GuardedRig::prove_sensor() {
  const Instant limit = clock_.now() + sensor_within;
  std::optional<double> current_mA = rig_.track_current_mA();
  while ((!current_mA || *current_mA > dead_track_mA) && clock_.now() < limit) {
    co_await clock_.sleep_for(look_every);
    current_mA = rig_.track_current_mA();
  }
  if (!current_mA) {
    stop(Stop{StopReason::no_sensor,
              "no current sensor reports. Connect one; or let /limits/accept_no_current_sensor say that shorts and "
              "stalls may go unnoticed, and stay in the room"});
  } else if (*current_mA > dead_track_mA) {
    stop(Stop{StopReason::no_sensor,
              "the track draws " + whole(*current_mA) + " mA though its power is off; " + dead_track_advice});
  }
}

void GuardedRig::stop(Stop stop) {
  const StopAction before = action_;
  action_ = std::max(action_, action(stop.reason));
  if (action_ == StopAction::dead && before != StopAction::dead) {
    power_.send_halt();
    dead_at_ = clock_.now();
    motion_.stand(clock_.now());
  }
  if (stop.reason == StopReason::over_current && !cut_) {
    cut_ = true;
    power_.cut();
  }
  if (!stop_) stop_ = std::move(stop);
  bell_.ring();
}

void GuardedRig::lose(const std::string& why) { stop(Stop{StopReason::rig_lost, why}); }

void GuardedRig::check(StopAction barrier) const {
  if (action_ >= barrier) throw RigFault(stop_->sentence);
  if (closed_) throw RigFault("the job is over and the track is dead; start a new job to drive again");
  if (parked_ && barrier == StopAction::park) throw RigFault("the engine is parked at the end of its job");
}

/// Whichever of the three ends first, for whatever reason, ends the others.
asio::awaitable<void> GuardedRig::watch() {
  const auto executor = co_await asio::this_coro::executor;
  auto all = asio::experimental::make_parallel_group(asio::co_spawn(executor, carry_out(), asio::deferred),
                                                     asio::co_spawn(executor, look_out(), asio::deferred),
                                                     asio::co_spawn(executor, listen(), asio::deferred));
  const auto [order, carried, looked, listened] =
      co_await all.async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
  const std::array<std::exception_ptr, 3> faults = {carried, looked, listened};
  const std::exception_ptr& fault = faults[order[0]];
  if (!fault) co_return;
  // A guard that can't look any more leaves nothing running.
  stop(Stop{StopReason::own_fault, "a fault of this program: the guard ended. The service has to be started anew"});
  co_await make_safe();
  std::rethrow_exception(fault);
}

/// Edges come here first, whether or not the procedure waits for one.
asio::awaitable<void> GuardedRig::listen() {
  for (;;) {
    const Instant until = clock_.now() + longest_wait;
    std::optional<GateEdge> edge;
    bool failed = false;
    try {
      edge = co_await rig_.next_edge(until);
    } catch (const RigFault& fault) {
      failed = true;
      if (powered_ && !closed_) lose(fault.what());
    }
    if (failed) co_await clock_.sleep_for(look_every);
    if (edge) hear(*edge);
  }
}

void GuardedRig::hear(const GateEdge& edge) {
  if (auto found = motion_.edge(edge); found && powered_ && !closed_) stop(std::move(*found));
  if (edges_.size() == most_edges) edges_.pop_front();
  edges_.push_back(edge);
  bell_.ring();
}

/// What waits for the station's answers, and may take long.
asio::awaitable<void> GuardedRig::carry_out() {
  for (int tries = 0; !safe_ && tries < tries_to_cut;) {
    const int before = tries;
    if (action_ == StopAction::park && !parked_) co_await park();
    if ((action_ == StopAction::dead || closed_) && at_it_ == 0) {
      ++tries;
      co_await make_safe();
    }
    const Duration pause = tries == before ? look_every : before_next_try;
    if (!safe_) co_await clock_.sleep_for(pause);
  }
}

/// What waits for nothing but the clock.
asio::awaitable<void> GuardedRig::look_out() {
  for (;;) {
    look();
    if (action_ == StopAction::dead && !cut_ && !safe_ && clock_.now() >= dead_at_ + halt_first) {
      cut_ = true;
      power_.cut();
    }
    look_due_ = clock_.now() + look_every;
    co_await clock_.sleep_until(look_due_);
  }
}

void GuardedRig::look() {
  if (powered_ && !closed_) {
    const std::string why = power_.why_lost();
    if (!why.empty()) lose(why);
  }
  look_at_host();
  look_at_current();
  if (auto found = motion_.look(clock_.now()); found && powered_ && !closed_) stop(std::move(*found));
  if (limits_.running_s && running_s() > *limits_.running_s) {
    stop(Stop{StopReason::running_time, "the engine ran for " + whole(running_s()) + " s, the limit is " +
                                            whole(*limits_.running_s) +
                                            " s. Let it cool, then go on with a new shift"});
  }
}

void GuardedRig::look_at_host() {
  const double late_s = look_due_ == Instant{} ? 0 : in_seconds(clock_.now() - look_due_);
  if (!powered_ || closed_ || late_s <= limits_.late_s) return;
  stop(Stop{StopReason::host_late, "this computer left the guard waiting for " + whole(1000 * late_s) +
                                       " ms, the limit is " + whole(1000 * limits_.late_s) +
                                       " ms. Take other work off it, or give the service a higher priority"});
}

void GuardedRig::look_at_current() {
  const std::optional<double> current_mA = rig_.track_current_mA();
  if (current_mA) {
    has_current_sensor_ = true;
    current_read_ = clock_.now();
    if (auto found = current_.feed(clock_.now(), *current_mA)) stop(std::move(*found));
  } else if (powered_ && !closed_ && has_current_sensor_ && clock_.now() - current_read_ > sensor_within) {
    stop(Stop{StopReason::no_sensor, "the current sensor says nothing any more. Look at it and at the board's wiring"});
  }
}

double GuardedRig::running_s() const {
  return ran_s_ + (running_since_ ? in_seconds(clock_.now() - *running_since_) : 0.0);
}

void GuardedRig::note_running(bool runs) {
  ran_s_ = running_s();
  running_since_.reset();
  if (runs) running_since_ = clock_.now();
}

asio::awaitable<void> GuardedRig::try_halt() {
  note_running(false);
  motion_.stand(clock_.now());
  try {
    co_await rig_.halt();
  } catch (const RigFault& fault) {
    troubles_.push_back(std::string("the engine could not be halted: ") + fault.what());
  } catch (const boost::system::system_error& error) {
    troubles_.push_back(std::string("the engine could not be halted: ") + error.what());
  }
}

asio::awaitable<void> GuardedRig::try_power_off() {
  try {
    co_await power_.set_power(false);
    safe_ = true;
  } catch (const RigFault& fault) {
    troubles_.push_back(std::string("track power could not be switched off: ") + fault.what());
  } catch (const boost::system::system_error& error) {
    troubles_.push_back(std::string("track power could not be switched off: ") + error.what());
  }
}

asio::awaitable<void> GuardedRig::park() {
  if (parked_ || safe_) co_return;
  parked_ = true;
  co_await try_halt();
}

asio::awaitable<void> GuardedRig::cut() {
  if (cut_ || safe_) co_return;
  co_await clock_.sleep_for(halt_first);
  if (cut_ || safe_) co_return;  // a short circuit did not wait
  cut_ = true;
  power_.cut();
}

asio::awaitable<void> GuardedRig::make_safe() {
  if (safe_) co_return;
  const AtIt now(at_it_);
  parked_ = true;
  closed_ = true;
  if (action_ == StopAction::dead) co_await cut();
  co_await try_halt();
  co_await try_power_off();
}

asio::awaitable<void> GuardedRig::drive(ThrottleCommand command) {
  check(StopAction::park);
  note_running(command.step > 0);
  motion_.drive(clock_.now(), command);
  try {
    co_await rig_.drive(command);
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<void> GuardedRig::halt() {
  note_running(false);
  motion_.stand(clock_.now());
  try {
    co_await rig_.halt();
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

void GuardedRig::check_write(int number) {
  check(StopAction::dead);
  const std::string name = "CV" + std::to_string(number);
  if (!limits_.cvs.contains(number)) {
    throw RigFault(name + " is not among the CVs that this work may write; it was left alone");
  }
  int& count = writes_[number];
  if (count >= limits_.writes_per_cv) {
    throw RigFault(name + " was written " + std::to_string(count) + " times in this job, the limit is " +
                   std::to_string(limits_.writes_per_cv) +
                   ". If the decoder really needs more, raise limits/writes_per_cv in the configuration");
  }
  ++count;
}

asio::awaitable<CvWriteReply> GuardedRig::write_cv(int number, std::uint8_t value) {
  check_write(number);
  try {
    const CvWriteReply reply = co_await rig_.write_cv(number, value);
    co_return reply;
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<CvWriteReply> GuardedRig::write_cv_bit(int number, int bit, bool value) {
  check_write(number);
  try {
    const CvWriteReply reply = co_await rig_.write_cv_bit(number, bit, value);
    co_return reply;
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<std::optional<std::uint8_t>> GuardedRig::read_cv(int number) {
  check(StopAction::dead);
  try {
    const std::optional<std::uint8_t> value = co_await rig_.read_cv(number);
    co_return value;
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<std::optional<GateEdge>> GuardedRig::next_edge(Instant deadline) {
  for (;;) {
    check(StopAction::park);
    if (!edges_.empty()) break;
    if (clock_.now() >= deadline) co_return std::nullopt;
    co_await bell_.wait_until(clock_, deadline);
  }
  const GateEdge first = edges_.front();
  edges_.pop_front();
  co_return first;
}

}  // namespace lapwright
