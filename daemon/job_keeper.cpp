#include "daemon/job_keeper.h"

#include <cmath>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration keeper_looks_every = std::chrono::milliseconds(100);
constexpr Duration keep_every = std::chrono::minutes(1);  // what a crash may forget of the running time
constexpr std::time_t hours_every_s = 5;

}  // namespace

asio::awaitable<void> JobKeeper::watch(GuardedRig& guard, Clock& clock, ShiftObserver& observer) {
  Instant keep_at = clock.now();
  for (;;) {
    try {
      if (clock.now() >= keep_at) {
        keep_running(guard);
        keep_at = clock.now() + keep_every;
      }
      // The track comes first: a disk may take long.
      if (guard.safe()) keep_trip(guard);
      co_await book_.journal().flush();
    } catch (const FileLost& lost) {
      guard.stop(Stop{StopReason::storage_lost, std::string("what is measured can't be kept: ") + lost.what()});
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
  keep_running(guard);
  co_await book_.journal().flush();
}

/// Also when it did not run: that nothing can be kept has to show before anything is measured.
void JobKeeper::keep_running(const GuardedRig& guard) {
  const double running_s = guard.running_s();
  memory_.ran(engine_, running_s - kept_s_);
  kept_s_ = running_s;
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
  if (hours_.always() || calendar_.now() < looked_at_ + hours_every_s) return std::nullopt;
  looked_at_ = calendar_.now();
  if (hours_.contains(looked_at_)) return std::nullopt;
  return Stop{StopReason::hours_over, "the allowed hours (" + hours_.text() + ") are over"};
}

}  // namespace lapwright
