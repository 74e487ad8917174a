#include "drivers/simulated/station.h"

#include <stdexcept>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/function_group.h"
#include "drivers/dcc/speed.h"

namespace lapwright::simulated {

namespace {
constexpr double write_wait_s = 0.1;  // RCN-214: about 100 ms where nothing is confirmed
constexpr double read_wait_s = 0.5;   // RCN-217: a reply may take this long
constexpr int pair = 2;               // copies of a write (S-9.2.1 l. 520-526)
constexpr int change_copies = 2;
constexpr int stop_copies = 3;
}  // namespace

Station::Station(dcc::VehicleAddress engine, bool listens) : engine_(engine), listens_(listens) {}

void Station::drive(ThrottleCommand command) {
  command_ = command;
  halted_ = false;
  urgent_copies_ = change_copies;
}

void Station::halt() {
  command_.step = 0;
  halted_ = true;
  urgent_copies_ = stop_copies;
  if (access_ && access_->copies_sent < access_->copies_wanted) access_->copies_sent = 0;  // the stop breaks the pair
}

void Station::begin(const Access& access) {
  if (access_) throw std::logic_error("simulated station: a CV access is under way; wait for its answer first");
  answer_.reset();
  access_ = access;
}

void Station::write(int cv, std::uint8_t value) {
  begin(Access{dcc::write_cv(engine_, cv, value), pair, 0, write_wait_s, {}});
  ++writes_;
}

void Station::write_bit(int cv, int bit, bool value) {
  begin(Access{dcc::write_cv_bit(engine_, cv, bit, value), pair, 0, write_wait_s, {}});
  ++writes_;
}

void Station::read(int cv) { begin(Access{dcc::verify_cv(engine_, cv, 0), 1, 0, read_wait_s, {}}); }

std::optional<CvAnswer> Station::take_answer() {
  const auto result = answer_;
  answer_.reset();
  return result;
}

dcc::Packet Station::speed_packet() const {
  return halted_ ? dcc::emergency_stop(engine_, command_.direction) : dcc::speed(engine_, command_);
}

dcc::Packet Station::for_engine(const dcc::Packet& packet, Sent kind) {
  last_ = kind;
  return packet;
}

dcc::Packet Station::refresh() {
  switch (turn_++ % 4) {
    case 1:
      return dcc::functions(engine_, dcc::FunctionGroup::f0_f4, 0);
    case 3:
      return dcc::functions(engine_, dcc::FunctionGroup::f5_f8, 0);
    default:
      return speed_packet();
  }
}

dcc::Packet Station::next() {
  ++packets_;
  if (last_ != Sent::idle) {  // at least 5 ms between two packets for one decoder (S-9.2 l. 116-118)
    last_ = Sent::idle;
    return dcc::idle();
  }
  // A stop goes before everything; a changed speed waits until the pair of a write is complete (S-9.2.1 l. 520-526).
  const bool in_a_pair = access_ && access_->copies_sent > 0 && access_->copies_sent < access_->copies_wanted;
  if (urgent_copies_ > 0 && (halted_ || !in_a_pair)) {
    --urgent_copies_;
    return for_engine(speed_packet(), Sent::refresh);
  }
  if (access_is_due()) return for_engine(access_->packet, Sent::access);
  return for_engine(refresh(), Sent::refresh);
}

/// A silent decoder gets two copies, then waits out its time while the refresh goes on; one that may answer is asked
/// on.
bool Station::access_is_due() const { return access_ && (access_->copies_sent < access_->copies_wanted || listens_); }

void Station::sent(double now_s, std::optional<std::uint8_t> reply) {
  if (!access_) return;
  if (last_ == Sent::access) {
    if (!access_->began_s) access_->began_s = now_s;
    ++access_->copies_sent;
    if (reply && access_->copies_sent >= access_->copies_wanted) {
      answer_ = CvAnswer{reply};
      access_.reset();
      return;
    }
  }
  const bool all_sent = access_->copies_sent >= access_->copies_wanted;  // a halt may have made it begin again
  if (all_sent && now_s - *access_->began_s >= access_->limit_s) {
    answer_ = CvAnswer{};
    access_.reset();
  }
}

void Station::power_lost() {
  halt();
  if (!access_) return;
  access_.reset();
  answer_ = CvAnswer{};
}

}  // namespace lapwright::simulated
