// What the daemon keeps and watches while one job runs, beside the guard: running time, trips, the allowed hours.
#pragma once

#include <boost/asio/awaitable.hpp>
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
  [[nodiscard]] std::vector<RunningCap> caps() const { return memory_.caps(engine_); }

 private:
  void keep_running(const GuardedRig& guard);
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
  std::time_t looked_at_ = 0;
  bool told_ = false;
  bool rests_ = false;
  bool trip_kept_ = false;
  bool again_ = false;
};

}  // namespace lapwright
