// One engine's tune from power on to power off, and the way out that holds whatever the end is.
#pragma once

#include "daemon/job_keeper.h"
#include "daemon/job_result.h"
#include "daemon/shift_observer.h"
#include "daemon/stop_button.h"
#include "daemon/test_stand.h"

namespace lapwright {

/// The decoder gets back what was lent from it as long as the track lives; what stays owed stands in the result.
/// Throws nothing; a fault of the program itself stands in the result.
boost::asio::awaitable<JobResult> run_job(const Job& job, Placement& engine, const GuardLimits& limits, Clock& clock,
                                          StopButton& button, ShiftObserver& observer, JobKeeper& keeper);

}  // namespace lapwright
