#include "drivers/guarded_rig.h"

#include <algorithm>
#include <boost/system/system_error.hpp>
#include <cmath>

#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(20);
constexpr int tries_to_cut = 10;
constexpr Duration halt_first = std::chrono::milliseconds(20);  // two packets for the engine, also while others are due
constexpr Duration longest_wait = std::chrono::milliseconds(500);  // a stop reaches a waiting procedure within this

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

std::set<int> cvs_of_a_tune() {
  std::set<int> result = {cv::start_voltage,
                          cv::acceleration,
                          cv::deceleration,
                          cv::top_voltage,
                          cv::mid_voltage,
                          cv::consist_address,
                          cv::acceleration_adjustment,
                          cv::deceleration_adjustment,
                          cv::configuration,
                          cv::kick_start};
  for (int number = cv::forward_trim; number <= cv::reverse_trim; ++number) result.insert(number);
  return result;
}

GuardedRig::GuardedRig(Rig& rig, TrackPower& power, Clock& clock, GuardLimits limits)
    : rig_(rig), power_(power), clock_(clock), limits_(std::move(limits)), current_(limits_.current) {}

asio::awaitable<void> GuardedRig::power_up() {
  check(StopAction::park);
  try {
    co_await power_.set_power(true);
    powered_ = true;
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

void GuardedRig::stop(Stop stop) {
  const StopAction before = action_;
  action_ = std::max(action_, action(stop.reason));
  if (action_ == StopAction::dead && before != StopAction::dead) power_.send_halt();
  if (stop.reason == StopReason::over_current && !cut_) {
    cut_ = true;
    power_.cut();
  }
  if (!stop_) stop_ = std::move(stop);
}

void GuardedRig::lose(const std::string& why) { stop(Stop{StopReason::rig_lost, why}); }

void GuardedRig::check(StopAction barrier) const {
  if (action_ >= barrier) throw RigFault(stop_->sentence);
  if (closed_) throw RigFault("the job is over and the track is dead; start a new job to drive again");
  if (parked_ && barrier == StopAction::park) throw RigFault("the engine is parked at the end of its job");
}

asio::awaitable<void> GuardedRig::watch() {
  for (int tries = 0; !safe_ && tries < tries_to_cut;) {
    look();
    if (action_ == StopAction::park && !parked_) co_await park();
    if ((action_ == StopAction::dead || closed_) && at_it_ == 0) {
      ++tries;
      co_await make_safe();
    }
    if (!safe_) co_await clock_.sleep_for(look_every);
  }
}

void GuardedRig::look() {
  if (powered_ && !closed_) {
    const std::string why = power_.why_lost();
    if (!why.empty()) lose(why);
  }
  const std::optional<double> current_mA = rig_.track_current_mA();
  if (current_mA) {
    has_current_sensor_ = true;
    if (auto found = current_.feed(clock_.now(), *current_mA)) stop(std::move(*found));
  }
  if (limits_.running_s && running_s() > *limits_.running_s) {
    stop(Stop{StopReason::running_time, "the engine ran for " + std::to_string(std::lround(running_s())) +
                                            " s, the limit is " + std::to_string(std::lround(*limits_.running_s)) +
                                            " s. Let it cool, then go on with a new shift"});
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
  try {
    co_await rig_.drive(command);
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<void> GuardedRig::halt() {
  note_running(false);
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
    const Instant until = std::min(deadline, clock_.now() + longest_wait);
    std::optional<GateEdge> edge;
    try {
      edge = co_await rig_.next_edge(until);
    } catch (const RigFault& fault) {
      lose(fault.what());
      throw;
    }
    if (edge || clock_.now() >= deadline) co_return edge;
  }
}

}  // namespace lapwright
