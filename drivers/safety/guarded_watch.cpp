// The guard's own work beside the procedure: it listens, looks, and carries stops out.
#include <algorithm>
#include <array>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include "drivers/safety/guarded_rig.h"
#include "drivers/safety/whole_number.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration guard_looks_every = std::chrono::milliseconds(10);
constexpr int tries_to_cut = 10;
constexpr Duration before_next_try = std::chrono::seconds(1);  // a lost link may be back by then
constexpr std::size_t most_edges = 10000;  // that the procedure did not fetch; older ones are dropped then
constexpr Duration sensor_may_be_quiet = std::chrono::seconds(1);
constexpr Duration until_dead = std::chrono::milliseconds(400);        // the sensor's mean is a tenth of a second old
constexpr Duration station_may_take = std::chrono::milliseconds(300);  // to say that the engine is halted, at the end
constexpr Duration halt_first = std::chrono::milliseconds(20);  // two packets for the engine, also while others are due
constexpr double before_the_feed_opens_s = 60;                  // for the last pass, and for what the decoder lent
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

/// Once: what fails is tried again and again.
void note_trouble(std::vector<std::string>& troubles, const std::string& what, const std::string& why) {
  const std::string trouble = what + ": " + why;
  if (std::find(troubles.begin(), troubles.end(), trouble) == troubles.end()) troubles.push_back(trouble);
}

/// In good order, before the feed goes with the engine on its way and its decoder not written back.
std::optional<Stop> feed_opens_soon(std::optional<double> left_s) {
  if (!left_s || *left_s > before_the_feed_opens_s) return std::nullopt;
  return Stop{StopReason::running_time,
              "the track was live for nearly as long as the board allows in one go, " + whole(*left_s) +
                  " s are left (its setting energised_s). Let it cool; what is left can be done "
                  "in another shift"};
}

}  // namespace

/// Whichever of the three ends first, for whatever reason, ends the others.
asio::awaitable<void> GuardedRig::watch() {
  const auto executor = co_await asio::this_coro::executor;
  auto all = asio::experimental::make_parallel_group(asio::co_spawn(executor, carry_out(), asio::deferred),
                                                     asio::co_spawn(executor, look_out(), asio::deferred),
                                                     asio::co_spawn(executor, listen(), asio::deferred));
  const auto [order, carried, looked, listened] =
      co_await all.async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
  watched_ = true;
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
      if (at_work()) lose(fault.what());
    }
    if (failed) co_await clock_.sleep_for(guard_looks_every);
    if (edge) hear(*edge);
  }
}

/// Of an engine that nobody runs any more nothing is judged: a hand may move it.
void GuardedRig::heed(std::optional<Stop> found) {
  if (found && at_work()) stop(std::move(*found));
}

void GuardedRig::hear(const GateEdge& edge) {
  heed(motion_.edge(edge));
  if (edges_.size() == most_edges) edges_.pop_front();
  edges_.push_back(edge);
  bell_.ring();
}

/// What waits for the station's answers, and may take long.
asio::awaitable<void> GuardedRig::carry_out() {
  for (int tries = 0; !safe_ && tries < tries_to_cut;) {
    const int before = tries;
    if (action_ == StopAction::park && !parked_) co_await park();
    if (action_ == StopAction::none && !rests_ && running_.overdue(clock_.now())) co_await make_rest();
    if ((action_ == StopAction::dead || closed_) && at_it_ == 0) {
      ++tries;
      co_await make_safe();
    }
    const Duration pause = tries == before ? guard_looks_every : before_next_try;
    if (!safe_) co_await clock_.sleep_for(pause);
  }
}

/// What waits for nothing but the clock.
asio::awaitable<void> GuardedRig::look_out() {
  for (;;) {
    look();
    const bool demanded = action_ == StopAction::dead && clock_.now() >= dead_at_ + halt_first;
    const bool unanswered = closed_ && clock_.now() >= closed_at_ + station_may_take;
    if ((demanded || unanswered) && !cut_ && !safe_) {
      cut_ = true;
      power_.cut();
    }
    look_due_ = clock_.now() + guard_looks_every;
    co_await clock_.sleep_until(look_due_);
  }
}

void GuardedRig::look() {
  if (at_work()) {
    if (auto lost = power_.lost()) stop(std::move(*lost));
  }
  look_at_host();
  look_at_current();
  heed(motion_.look(clock_.now()));
  heed(feed_opens_soon(power_.left_s()));
  if (auto found = running_.look(clock_.now())) stop(std::move(*found));
  looked_ = clock_.now();
  if (action_ != StopAction::dead) power_.vouch();
}

void GuardedRig::look_at_host() {
  const double slept_s = in_seconds(clock_.suspended() - slept_);
  slept_ = clock_.suspended();
  if (at_work() && slept_s > limits_.late_s) {
    stop(Stop{StopReason::host_late, "this computer slept for " + whole(slept_s) +
                                         " s while an engine was at work. Keep it awake: switch its power saving off"});
  }
  const double late_s = look_due_ == Instant{} ? 0 : in_seconds(clock_.now() - look_due_);
  if (!at_work() || late_s <= limits_.late_s) return;
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
    heed(motion_.current(clock_.now(), *current_mA));
  } else if (at_work() && has_current_sensor_ && clock_.now() - current_read_ > sensor_may_be_quiet) {
    stop(Stop{StopReason::no_sensor, "the current sensor says nothing any more. Look at it and at the board's wiring"});
  }
}

asio::awaitable<void> GuardedRig::try_halt() {
  running_.runs(clock_.now(), false);
  motion_.stand(clock_.now());
  try {
    co_await rig_.halt();
  } catch (const RigFault& fault) {
    note_trouble(troubles_, "the engine could not be halted", fault.what());
  } catch (const boost::system::system_error& error) {
    note_trouble(troubles_, "the engine could not be halted", error.what());
  }
}

/// Power was switched off, says the rig: the current has to say so, too.
asio::awaitable<void> GuardedRig::see_it_dead() {
  const Instant limit = clock_.now() + until_dead;
  std::optional<double> current_mA = rig_.track_current_mA();
  while (current_mA && *current_mA > dead_track_mA && clock_.now() < limit) {
    co_await clock_.sleep_for(guard_looks_every);
    current_mA = rig_.track_current_mA();
  }
  safe_ = !current_mA || *current_mA <= dead_track_mA;
  if (safe_) co_return;
  throw RigFault("the track still draws " + whole(*current_mA) + " mA. Switch the supply off by hand, then " +
                 dead_track_advice);
}

asio::awaitable<void> GuardedRig::try_power_off() {
  try {
    co_await power_.set_power(false);
    co_await see_it_dead();
  } catch (const RigFault& fault) {
    note_trouble(troubles_, "track power could not be switched off", fault.what());
  } catch (const boost::system::system_error& error) {
    note_trouble(troubles_, "track power could not be switched off", error.what());
  }
}

/// The procedure was asked to let the engine rest, by `rest_due_s`, and did not.
asio::awaitable<void> GuardedRig::make_rest() {
  rests_ = true;
  co_await try_halt();
}

asio::awaitable<void> GuardedRig::park() {
  if (parked_) co_return;
  parked_ = true;
  co_await try_halt();
}

asio::awaitable<void> GuardedRig::cut() {
  if (cut_) co_return;
  co_await clock_.sleep_for(halt_first);
  if (cut_) co_return;  // a short circuit did not wait
  cut_ = true;
  power_.cut();
}

asio::awaitable<void> GuardedRig::make_safe() {
  if (safe_) co_return;
  const AtIt now(at_it_);
  parked_ = true;
  if (!closed_) closed_at_ = clock_.now();
  closed_ = true;
  if (action_ == StopAction::dead) co_await cut();
  co_await try_halt();
  co_await try_power_off();
}

}  // namespace lapwright
