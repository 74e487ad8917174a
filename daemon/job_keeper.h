// What the daemon keeps and watches while one job runs, beside the guard: running time, trips, the allowed hours.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>
#include <string>

#include "daemon/allowed_hours.h"
#include "daemon/shift_book.h"
#include "daemon/shift_memory.h"
#include "daemon/shift_observer.h"
#include "drivers/safety/guarded_rig.h"

namespace lapwright {

class JobKeeper {
 public:
  /// All outlive it.
  JobKeeper(ShiftMemory& memory, const Calendar& calendar, const AllowedHours& hours, JobBook& book)
      : memory_(memory), calendar_(calendar), hours_(hours), book_(book), engine_(book.story().engine) {}

  /// To be spawned beside the work, and cancelled after it. Stops the engine in good order where the hours are over or
  /// nothing can be kept any more.
  boost::asio::awaitable<void> watch(GuardedRig& guard, Clock& clock, ShiftObserver& observer);
  /// What is left to keep once the track is dead. @throws FileLost
  boost::asio::awaitable<void> finish(const GuardedRig& guard, ShiftObserver& observer);

  /// The job tripped, and the configuration's rule lets it begin anew.
  [[nodiscard]] bool again() const { return again_; }
  [[nodiscard]] JobBook& book() { return book_; }
  /// The configuration's, with what earlier jobs have left of them.
  [[nodiscard]] RunningLimits running(RunningLimits limits) const;

 private:
  boost::asio::awaitable<void> keep(GuardedRig& guard, Clock& clock);
  boost::asio::awaitable<void> look(GuardedRig& guard, Clock& clock, ShiftObserver& observer);
  boost::asio::awaitable<void> keep_running(const GuardedRig& guard);
  void keep_trip(const GuardedRig& guard);
  void tell(const GuardedRig& guard, ShiftObserver& observer);
  void tell_rest(GuardedRig& guard, ShiftObserver& observer);
  [[nodiscard]] std::optional<Stop> hours_over();

  ShiftMemory& memory_;
  const Calendar& calendar_;
  const AllowedHours& hours_;
  JobBook& book_;
  std::string engine_;
  double kept_s_ = 0;
  std::optional<Instant> keeping_since_;  ///< what the disk is busy with just now
  std::time_t looked_at_ = 0;
  bool told_ = false;
  bool rests_ = false;
  bool trip_kept_ = false;
  bool again_ = false;
};

}  // namespace lapwright
