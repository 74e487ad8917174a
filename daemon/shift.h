// The main job: one engine after another, from the track to its report.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/job.h"

namespace lapwright {

struct Shift {
  std::string railway;  ///< its name, for reports
  std::vector<Job> jobs;
  GuardLimits limits;
  std::filesystem::path reports;  ///< folder
};

struct ShiftResult {
  std::vector<JobResult> results;  ///< of the first jobs of the shift, as far as it came
  bool rig_lost = false;
  std::string trouble;        ///< why the next engine could not be taken, if that ended the shift
  bool needs_person = false;  ///< for at least one engine, or because engines are left
};

/// @throws ReportLost
boost::asio::awaitable<ShiftResult> run_shift(const Shift& shift, TestStand& stand, Clock& clock, StopButton& button,
                                              ShiftObserver& observer);

}  // namespace lapwright
