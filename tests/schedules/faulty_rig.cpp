#include "tests/schedules/faulty_rig.h"

#include "tuning/rig_fault.h"

namespace lapwright::schedules {
namespace asio = boost::asio;
namespace {

constexpr Duration reply_within = std::chrono::seconds(3);  // of the station, to anything
constexpr Duration silence = std::chrono::milliseconds(750);
constexpr Duration late = std::chrono::seconds(2);
const char* const silent_station = "the station says nothing any more";

}  // namespace

void FaultyRig::begins(const Fault& fault) {
  if (fault.kind == Kind::station_silent) silent_since_ = clock_.now();
  if (fault.kind == Kind::station_lost && lost_.empty()) lost_ = "the station's link is down";
  board_.begins(fault);
}

void FaultyRig::ends(const Fault& fault) {
  if (fault.kind == Kind::station_silent && clock_.now() - silent_since_ >= silence && lost_.empty()) {
    lost_ = silent_station;
  }
}

std::optional<Stop> FaultyRig::lost() const {
  const bool silent = troubles_.on(Kind::station_silent) && clock_.now() - silent_since_ >= silence;
  std::string why = silent ? silent_station : board_.trouble();
  if (!lost_.empty()) why = lost_;
  if (why.empty()) return std::nullopt;
  return Stop{StopReason::rig_lost, why};
}

asio::awaitable<void> FaultyRig::reach_station() {
  if (troubles_.on(Kind::station_lost)) throw RigFault("the station's link is down");
  if (!troubles_.on(Kind::station_silent)) co_return;
  co_await host_.sleep_for(reply_within);
  throw RigFault("the station did not answer within 3 s");
}

asio::awaitable<void> FaultyRig::hear_station() {
  if (troubles_.on(Kind::station_slow)) co_await clock_.sleep_for(late);
  co_await host_.awake();
}

asio::awaitable<void> FaultyRig::drive(ThrottleCommand command) {
  asked_.drive(clock_.now(), command);
  co_await reach_station();
  const bool ignored = troubles_.on(Kind::stop_ignored) && command.step == 0;
  if (!ignored) co_await railway_.drive(command);
  if (!ignored && troubles_.on(Kind::commands_doubled)) co_await railway_.drive(command);
  co_await hear_station();
}

asio::awaitable<void> FaultyRig::halt() {
  if (!asked_.halted) asked_.halted = clock_.now();
  asked_.halted_last = clock_.now();
  asked_.stand(clock_.now());
  co_await reach_station();
  if (!troubles_.on(Kind::stop_ignored)) co_await railway_.halt();
  co_await hear_station();
}

void FaultyRig::send_halt() {
  asked_.stand(clock_.now());
  if (station_hears() && !troubles_.on(Kind::stop_ignored)) railway_.send_halt();
}

bool FaultyRig::note_write(int cv) {
  ++asked_.writes[cv];
  asked_.lost_writes.erase(cv);
  note_miss(cv);
  return !troubles_.on(Kind::writes_refused);
}

/// Asked before and after a write: whether the decoder may miss it without anybody being told.
void FaultyRig::note_miss(int cv) {
  const bool lifted = troubles_.on(Kind::engine_lifted) && !decoder_answers_;
  const bool refused = troubles_.on(Kind::writes_refused) && !decoder_answers_;
  if (lifted || refused) asked_.lost_writes.insert(cv);
}

asio::awaitable<CvWriteReply> FaultyRig::write_cv(int cv, std::uint8_t value) {
  co_await reach_station();
  const bool taken = note_write(cv);
  CvWriteReply reply = missed();
  if (taken) reply = co_await railway_.write_cv(cv, value);
  if (taken && troubles_.on(Kind::commands_doubled)) reply = co_await railway_.write_cv(cv, value);
  note_miss(cv);
  co_await hear_station();
  co_return reply;
}

asio::awaitable<CvWriteReply> FaultyRig::write_cv_bit(int cv, int bit, bool value) {
  co_await reach_station();
  const bool taken = note_write(cv);
  CvWriteReply reply = missed();
  if (taken) reply = co_await railway_.write_cv_bit(cv, bit, value);
  if (taken && troubles_.on(Kind::commands_doubled)) reply = co_await railway_.write_cv_bit(cv, bit, value);
  co_await hear_station();
  co_return reply;
}

asio::awaitable<std::optional<std::uint8_t>> FaultyRig::read_cv(int cv) {
  co_await reach_station();
  const std::optional<std::uint8_t> value = co_await railway_.read_cv(cv);
  co_await hear_station();
  co_return value;
}

/// As on wires: on, the station first and the relay last; off, the relay first, and one of the two is enough.
asio::awaitable<void> FaultyRig::set_power(bool on) {
  if (on) {
    co_await switch_station(true);
    co_await board_.set_power(true);
    lost_.clear();
    co_return;
  }
  std::string trouble;
  int dead = 0;
  try {
    co_await board_.set_power(false);
    ++dead;
  } catch (const RigFault& fault) {
    trouble = fault.what();
  }
  try {
    co_await switch_station(false);
    ++dead;
  } catch (const RigFault& fault) {
    trouble += std::string("; ") + fault.what();
  }
  if (dead == 0) throw RigFault(trouble);
}

asio::awaitable<void> FaultyRig::switch_station(bool on) {
  co_await reach_station();
  if (on || !troubles_.on(Kind::power_off_ignored)) feed_.set_station(on);
  co_await hear_station();
}

void FaultyRig::cut() {
  board_.cut();
  if (station_hears() && !troubles_.on(Kind::power_off_ignored)) feed_.set_station(false);
}

}  // namespace lapwright::schedules
