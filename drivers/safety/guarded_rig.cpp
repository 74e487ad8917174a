#include "drivers/safety/guarded_rig.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(10);
constexpr Duration sensor_within = std::chrono::seconds(1);
constexpr int zero_readings = 50;
constexpr Duration hangs_after = std::chrono::seconds(1);

}  // namespace

GuardedRig::GuardedRig(Rig& rig, TrackPower& power, Clock& clock, GuardLimits limits)
    : rig_(rig),
      power_(power),
      clock_(clock),
      limits_(std::move(limits)),
      current_(limits_.current),
      motion_(limits_.motion),
      running_(limits_.running, clock.now()),
      looked_(clock.now()),
      slept_(clock.suspended()) {}

bool GuardedRig::awake() const { return watched_ || clock_.now() - looked_ <= hangs_after; }

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
  double sum_mA = 0;
  for (int reading = 0; reading < zero_readings; ++reading) {
    sum_mA += rig_.track_current_mA().value_or(0);
    co_await clock_.sleep_for(look_every);
  }
  motion_.zero_is(sum_mA / zero_readings);
}

void GuardedRig::stop(Stop stop) {
  if (!stop_) {
    stop.evidence = gathered();
    stop_ = stop;
  }
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
  bell_.ring();
}

Evidence GuardedRig::gathered() const {
  const std::optional<double> current_mA = rig_.track_current_mA();
  return {{"commanded", motion_.commanded()},
          {"place", motion_.place()},
          {"track current", current_mA ? whole(*current_mA) + " mA" : "not known"},
          {"mean of the last minute", has_current_sensor_ ? whole(current_.mean_mA()) + " mA" : "not known"},
          {"ran in this job", whole(running_s()) + " s"}};
}

/// An operation failed: perhaps because of what the rig would tell when asked.
void GuardedRig::lose(const std::string& why) { stop(power_.lost().value_or(Stop{StopReason::rig_lost, why})); }

void GuardedRig::check(StopAction barrier) const {
  if (action_ >= barrier) throw RigFault(stop_->sentence);
  if (closed_) throw RigFault("the job is over and the track is dead; start a new job to drive again");
  if (parked_ && barrier == StopAction::park) throw RigFault("the engine is parked at the end of its job");
}

asio::awaitable<void> GuardedRig::drive(ThrottleCommand command) {
  check(StopAction::park);
  if (command.step > 0) {
    while (rests_ && rest_due_s() > 0) {
      const Instant rested = clock_.now() + seconds(rest_due_s());
      co_await bell_.wait_until(clock_, rested);
      check(StopAction::park);
    }
    rests_ = false;
  }
  running_.runs(clock_.now(), command.step > 0);
  motion_.drive(clock_.now(), command);
  try {
    co_await rig_.drive(command);
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
}

asio::awaitable<void> GuardedRig::halt() {
  running_.runs(clock_.now(), false);
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
    const std::string refusal = name + " is not among the CVs that this work may write; it was left alone";
    troubles_.push_back("a defect of this program, please report it: " + refusal);
    throw RigFault(refusal);
  }
  int& count = writes_[number];
  if (count >= limits_.writes_per_cv) {
    throw RigFault(name + " was written " + std::to_string(count) + " times in this job, the limit is " +
                   std::to_string(limits_.writes_per_cv) +
                   ". If the decoder really needs more, raise limits/writes_per_cv in the configuration");
  }
  ++count;
}

/// Nobody knows whether a write reached the decoder whose track went dead meanwhile.
void GuardedRig::check_arrived() const {
  check(StopAction::dead);
  if (const auto lost = power_.lost()) throw RigFault(lost->sentence);
}

asio::awaitable<CvWriteReply> GuardedRig::write_cv(int number, std::uint8_t value) {
  check_write(number);
  try {
    const CvWriteReply reply = co_await rig_.write_cv(number, value);
    check_arrived();
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
    check_arrived();
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

/// Turnouts are never thrown under an engine: that is vetoed, and stops nothing else.
asio::awaitable<void> GuardedRig::set_route(int route) {
  check(StopAction::park);
  if (const auto why_not = motion_.refuses(clock_.now(), route)) {
    throw RigFault("the turnouts were left as they lie: " + *why_not);
  }
  try {
    co_await rig_.set_route(route);
  } catch (const RigFault& fault) {
    lose(fault.what());
    throw;
  }
  motion_.route(route);
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
