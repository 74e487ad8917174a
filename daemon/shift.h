// The main job: one engine after another, from the track to its report.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/job.h"
#include "daemon/shift_book.h"

namespace lapwright {

struct Shift {
  std::string railway;  ///< its name, for reports
  std::vector<Job> jobs;
  GuardLimits limits;
  AllowedHours hours;
  std::filesystem::path reports;  ///< folder
  bool dated = true;              ///< pages tell date and time; not those of a rehearsal: the same seed, the same bytes
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
  /// A person has just looked and cleared: on a shuttle, the engine stands where a search may begin.
  bool set_down = false;
};

struct ShiftResult {
  std::vector<JobResult> results;  ///< of the jobs from the first one on, as far as it came
  std::vector<std::size_t> of;     ///< which job each of them is of: some may have been through before
  bool rig_lost = false;
  std::string trouble;        ///< why the next engine could not be taken, if that ended the shift
  bool needs_person = false;  ///< for at least one engine, or because engines are left
  std::size_t next = 0;       ///< index of the job to go on with after a trip; all jobs: the shift is through
};

/// @param first  index of the job to begin with @throws FileLost
boost::asio::awaitable<ShiftResult> run_shift(const Shift& shift, std::size_t first, ShiftMeans means);

}  // namespace lapwright
