// The stage of one schedule: railway, board, rig and host with their faults, and the people who press buttons.
#pragma once

#include <boost/asio/io_context.hpp>

#include "daemon/job_keeper.h"
#include "daemon/stop_button.h"
#include "tests/schedules/faulty_rig.h"
#include "tests/schedules/notebook.h"
#include "tests/schedules/schedule.h"
#include "tests/schedules/watcher.h"

namespace lapwright::schedules {

struct Stage {
  explicit Stage(const Schedule& played);

  const Schedule& schedule;
  VirtualClock clock;
  Host host{clock};
  simulated::SimulatedRig railway;
  Feed feed;
  Troubles troubles;
  Asked asked;
  FaultyBoard board;
  FaultyRig rig;
  Notebook notebook;
  StopButton button;
  RealCalendar calendar;
  AllowedHours hours;
  RealStorage storage;
  ShiftMemory memory{storage, {}, calendar, RunningCaps{}, RetryRule{}};  ///< in no folder
  GuardLimits limits;
  Watcher watcher;
  boost::asio::io_context context{1};

  std::vector<Fault> happened;  ///< while the job ran, with the times at which they did
  std::optional<double> ended_s;
  std::optional<JobResult> result;

  /// Plays the schedule until nobody has anything to do. @return whether that came about in time
  bool play();
  [[nodiscard]] double now_s() const { return in_seconds(clock.now() - Instant{}); }

 private:
  void spawn(boost::asio::awaitable<void> part);
  boost::asio::awaitable<void> job();
  boost::asio::awaitable<void> happen(Fault fault);
  boost::asio::awaitable<void> press(Fault fault);
  boost::asio::awaitable<void> pass_by_hand(Fault fault);
  boost::asio::awaitable<void> stop_in_order();
  boost::asio::awaitable<void> watch();
  [[nodiscard]] bool over() const { return ended_s.has_value(); }
};

}  // namespace lapwright::schedules
