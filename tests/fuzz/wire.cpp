#include "tests/fuzz/wire.h"

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <utility>

#include "tests/fuzz/property.h"
#include "tuning/rig_fault.h"

namespace lapwright::fuzz {
namespace asio = boost::asio;
namespace {

constexpr int most_operations = 4;
constexpr Duration closed_within = std::chrono::milliseconds(1);
constexpr Duration closed_for = std::chrono::seconds(1);

/// Ends the process here: unwinding would destroy the driver before the coroutines that refer to it.
void end_at(const std::exception_ptr& failure) {
  if (!failure) return;
  try {
    std::rethrow_exception(failure);
  } catch (const std::exception& unexpected) {
    property(false, std::string("an operation fails by RigFault alone, all else not at all: ") + unexpected.what());
  }
}

}  // namespace

void Wire::send(std::string_view bytes) {
  if (closing()) throw RigFault("the link is down");
  if (full_) throw RigFault("the other side takes nothing");
  went(bytes);
}

void Wire::cut_in(std::string_view bytes) {
  if (closing()) throw RigFault("the link is down");
  full_ = false;  // it takes the place of whatever was queued
  went(bytes);
}

void Wire::open() {
  up_ = true;
  full_ = false;
  given_up_.clear();
  begun_anew();
  user().opened(*this);
}

void Wire::unplug(const std::string& why) {
  if (!up_) return;
  up_ = false;
  given_up_.clear();
  reopened_at_ = clock_.now() + closed_for;
  user().lost(why);
}

bool Wire::closing() const {
  property(up_, "an outlet is not used after `lost`");
  return !given_up_.empty();
}

void Wire::tell(std::string_view bytes) {
  if (up_ && given_up_.empty() && !bytes.empty()) user().received(bytes, clock_.now());
}

asio::awaitable<void> Wire::pass(Duration length) {
  const Instant end = clock_.now() + length;
  while (clock_.now() < end) {
    Instant next = end;
    if (up_ && !given_up_.empty()) next = std::min(end, clock_.now() + closed_within);
    if (!up_) next = std::min(end, reopened_at_);
    co_await clock_.sleep_until(next);
    if (up_ && !given_up_.empty()) unplug(std::string(given_up_));
    if (!up_ && clock_.now() >= reopened_at_) open();
  }
}

void Wire::begin(asio::awaitable<void> operation) {
  if (operations_ == most_operations) return;
  ++operations_;
  asio::co_spawn(context_, watched(std::move(operation)), end_at);
}

asio::awaitable<void> Wire::watched(asio::awaitable<void> operation) {
  const Instant begun = clock_.now();
  try {
    co_await std::move(operation);
  } catch (const RigFault& fault) {
    property(fault.what()[0] != '\0', "a fault says what is wrong");
  }
  property(clock_.now() - begun <= longest_, "every operation ends in time, whatever the other side says");
  --operations_;
}

asio::awaitable<void> Wire::finish() {
  const Instant end = clock_.now() + longest_;
  while (operations_ > 0 && clock_.now() < end) co_await pass(std::chrono::seconds(2));
  property(operations_ == 0, "an operation ends when nothing more is heard");
  stop();
}

void Wire::run() {
  open();
  asio::co_spawn(context_, serve(), end_at);
  asio::co_spawn(context_, play(), end_at);
  const auto outcome = clock_.run(context_, std::chrono::hours(24 * 365));
  property(outcome == VirtualClock::Outcome::finished, "the driver ends when it is told to stop");
  context_.restart();  // what cancelled waits left to be cleared away refers to the driver, which goes first
  context_.poll();
}

}  // namespace lapwright::fuzz
