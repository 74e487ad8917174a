// The three engines of configs/yard.json, a night in virtual time, and a person who may be there or not.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "daemon/shift.h"
#include "drivers/virtual_clock.h"
#include "tests/fixed_calendar.h"
#include "tests/temporary_folder.h"
#include "tests/yard/yard_stand.h"

namespace lapwright::yard {

class YardBench {
 public:
  static constexpr std::time_t stands_still_at = 1'795'000'000;  ///< the calendar, while the virtual clock runs
  explicit YardBench(std::uint64_t seed = 14);
  /// The tracks lead out the other way, and engines stand with their chimneys to the buffers.
  void turn_round();
  /// All of the configuration's shift, or what is left of it. @param works  one for each engine; empty: checks
  ShiftResult run(const std::vector<Work>& works = {}, bool set_down = false);
  [[nodiscard]] const Left& last_run_of(const std::string& engine) const;
  /// Every engine that stands at home after each of its last runs, on its wheels, having touched no buffers.
  [[nodiscard]] bool all_at_home() const;

  Configuration configuration;
  VirtualClock clock;
  std::optional<YardStand> stand;                   ///< made by the first run
  std::function<void(YardStand&)> before_it_lives;  ///< told of it then
  HandOver hand_over;
  double night_s = 24 * 3600;                     ///< then the power fails
  bool person = false;                            ///< somebody is there, and reacts to what is waited for
  std::function<void(const std::string&)> asked;  ///< of a person who is there
  LeaveRule leave;
  std::vector<std::string> waits;
  QueueStory queue;  ///< at the end
  std::optional<Trip> trip;

 private:
  TemporaryFolder folder_;
  FixedCalendar calendar_{stands_still_at};
  RealStorage storage_;
};

}  // namespace lapwright::yard
