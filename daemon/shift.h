// The main job: one engine after another, from the track to its report.
#pragma once

#include <deque>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "daemon/hand_over.h"
#include "daemon/job.h"
#include "daemon/shift_book.h"

namespace lapwright {

/// Makes the job of an entry whose turn has come. @throws settings::Errors
using Planner = std::function<Job(const QueueEntry&)>;

/// Finds it among jobs that were planned before.
[[nodiscard]] Planner planner_among(std::vector<Job> jobs);

struct Shift {
  std::string railway;  ///< its name, for reports
  Planner plan;
  GuardLimits limits;
  AllowedHours hours;
  std::filesystem::path reports;  ///< folder
  LeaveRule leave = {};
  bool dated = true;  ///< pages tell date and time; not those of a rehearsal: the same seed, the same bytes
};

/// What a shift works with; all outlive it.
struct ShiftMeans {
  TestStand& stand;
  Clock& clock;
  const Calendar& calendar;
  ShiftMemory& memory;
  ShiftBook& book;
  StopButton& button;
  ShiftObserver& observer;
  HandOver* hand_over = nullptr;  ///< null: engines come onto the track by themselves
  /// A person has just looked and cleared: on a shuttle, the engine stands where a search may begin.
  bool set_down = false;
};

/// A job that was worked on, and what came of it.
struct ShiftTurn {
  QueueEntry entry;
  Job job;
  JobResult result;
};

struct ShiftResult {
  std::deque<ShiftTurn> turns;  ///< of this run of the service
  bool rig_lost = false;
  std::string trouble;        ///< why the next engine could not be taken, if that ended the shift
  bool needs_person = false;  ///< for at least one engine, or because engines are left
};

/// As long as the book's queue has entries, is not paused, and the button not pressed. @throws FileLost
boost::asio::awaitable<ShiftResult> run_shift(const Shift& shift, ShiftMeans means);

}  // namespace lapwright
