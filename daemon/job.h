// One engine's tune from power on to power off, and the way out that holds whatever the end is.
#pragma once

#include "daemon/engine_file.h"
#include "daemon/job_keeper.h"
#include "daemon/job_result.h"
#include "daemon/job_work.h"
#include "daemon/shift_observer.h"
#include "daemon/stop_button.h"
#include "daemon/test_stand.h"

namespace lapwright {

/// What to do, with which engine, within which limits; all outlive the job.
struct JobOrder {
  const Job& job;
  const EngineRecord& home;  ///< the engine's record; the job's may say another address
  RestoreStage stage;
  const KnownEngine& known;  ///< what the engine's document says of it
  const GuardLimits& limits;
};

/// The configuration's, with what the target sheet means for the rules about motion, and what is left of the caps.
[[nodiscard]] GuardLimits guard_limits_of(const Job& job, GuardLimits limits, const JobKeeper& keeper);

/// The decoder gets back what was lent from it as long as the track lives; what stays owed stands in the result.
/// Throws nothing; a fault of the program itself stands in the result.
boost::asio::awaitable<JobResult> run_job(JobOrder job_order, Placement& engine, Clock& clock, StopButton& button,
                                          ShiftObserver& observer, JobKeeper& keeper);

}  // namespace lapwright
