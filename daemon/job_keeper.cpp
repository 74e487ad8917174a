#include "daemon/job_keeper.h"

#include <boost/asio/experimental/awaitable_operators.hpp>
#include <cmath>
#include <exception>
#include <functional>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration keeper_looks_every = std::chrono::milliseconds(100);
constexpr auto disk_may_take = std::chrono::seconds(15);  // one that sleeps has to spin up
constexpr Duration keep_every = std::chrono::minutes(1);  // what a crash may forget of the running time

}  // namespace

asio::awaitable<void> JobKeeper::watch(GuardedRig& guard, Clock& clock, ShiftObserver& observer) {
  using asio::experimental::awaitable_operators::operator&&;
  auto kept = keep(guard, clock);
  auto seen = look(guard, clock, observer);
  auto both = std::move(kept) && std::move(seen);
  co_await std::move(both);
}

/// What waits for the disk.
asio::awaitable<void> JobKeeper::keep(GuardedRig& guard, Clock& clock) {
  Instant keep_at = clock.now();
  for (;;) {
    const bool due = clock.now() >= keep_at;
    if (due) keep_at = clock.now() + keep_every;
    keeping_since_ = clock.now();
    try {
      if (due) co_await keep_running(guard);
      // The track comes first: a disk may take long.
      if (guard.safe()) keep_trip(guard);
      co_await book_.journal().flush();
    } catch (const FileLost& lost) {
      guard.stop(Stop{StopReason::storage_lost, std::string("what is measured can't be kept: ") + lost.what()});
    }
    keeping_since_.reset();
    co_await clock.sleep_for(keeper_looks_every);
  }
}

/// What waits for nothing but the clock.
asio::awaitable<void> JobKeeper::look(GuardedRig& guard, Clock& clock, ShiftObserver& observer) {
  for (;;) {
    if (keeping_since_ && clock.now() - *keeping_since_ > disk_may_take) {
      guard.stop(Stop{StopReason::storage_lost,
                      "what is measured can't be kept: the disk is busy with it for more than " +
                          std::to_string(disk_may_take.count()) + " s. Look at the disk, and at what else uses it"});
    }
    if (auto over = hours_over(); over && !guard.stopped()) guard.stop(std::move(*over));
    tell(guard, observer);
    tell_rest(guard, observer);
    co_await clock.sleep_for(keeper_looks_every);
  }
}

asio::awaitable<void> JobKeeper::finish(const GuardedRig& guard, ShiftObserver& observer) {
  tell(guard, observer);
  keep_trip(guard);
  co_await keep_running(guard);
  co_await book_.journal().flush();
}

RunningLimits JobKeeper::running(RunningLimits limits) const {
  limits.caps = memory_.caps(engine_);
  limits.tired_s = memory_.tired_s(engine_, limits.continuous_s / limits.rest_s);
  return limits;
}

/// Also when it did not run: that nothing can be kept has to show before anything is measured. Beside the loop that
/// watches the engine: a disk may take long.
asio::awaitable<void> JobKeeper::keep_running(const GuardedRig& guard) {
  const double running_s = guard.running_s();
  const double more_s = running_s - kept_s_;
  const double tired_s = guard.tired_s();
  kept_s_ = running_s;
  std::exception_ptr failure;
  std::function<void()> work = [this, more_s, tired_s, &failure] {
    try {
      memory_.ran(engine_, more_s, tired_s);
    } catch (const FileLost&) {
      failure = std::current_exception();
    }
  };
  co_await book_.journal().worker().run(work);
  if (failure) std::rethrow_exception(failure);
}

void JobKeeper::keep_trip(const GuardedRig& guard) {
  if (trip_kept_ || !guard.stopped() || !latches(guard.stopped()->reason)) return;
  trip_kept_ = true;
  again_ = memory_.keep(engine_, *guard.stopped());
}

void JobKeeper::tell(const GuardedRig& guard, ShiftObserver& observer) {
  if (told_ || !guard.stopped()) return;
  told_ = true;
  book_.stopped(*guard.stopped());
  observer.stopped(*guard.stopped());
}

void JobKeeper::tell_rest(GuardedRig& guard, ShiftObserver& observer) {
  const double due_s = guard.rest_due_s();
  if (rests_ == (due_s > 0)) return;
  rests_ = due_s > 0;
  const int minutes = static_cast<int>(std::lround(due_s / 60));
  observer.waits(rests_ ? "the engine ran for long and rests for " + std::to_string(minutes) + " min" : "");
}

std::optional<Stop> JobKeeper::hours_over() {
  if (hours_.always() || calendar_.now() == looked_at_) return std::nullopt;  // also where the clock was set back
  looked_at_ = calendar_.now();
  if (hours_.contains(looked_at_)) return std::nullopt;
  return Stop{StopReason::hours_over, "the allowed hours (" + hours_.text() + ") are over"};
}

}  // namespace lapwright
