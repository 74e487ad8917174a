#include "daemon/shift.h"

#include "daemon/report_files.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<ShiftResult> run_shift(const Shift& shift, TestStand& stand, Clock& clock, StopButton& button,
                                       ShiftObserver& observer) {
  ShiftResult outcome;
  const int engines = static_cast<int>(shift.jobs.size());
  for (const Job& job : shift.jobs) {
    if (button.pressed() || outcome.rig_lost) break;
    const int number = static_cast<int>(outcome.results.size()) + 1;
    observer.engine_begins(job, number, engines);

    std::unique_ptr<Placement> engine;
    try {
      engine = co_await stand.put_on_track(job.record);
    } catch (const RigFault& fault) {
      outcome.trouble = fault.what();
      outcome.rig_lost = true;
      break;
    }
    const JobResult result = co_await run_job(job, *engine, shift.limits, clock, button, observer);
    co_await engine->leave();
    if (result.fault) std::rethrow_exception(result.fault);

    write_reports(shift.reports, shift.railway, job, result);
    observer.engine_ends(job, result);
    outcome.rig_lost = rig_is_lost(result);
    outcome.needs_person = outcome.needs_person || needs_person(result);
    outcome.results.push_back(result);
  }
  if (outcome.results.size() < shift.jobs.size()) outcome.needs_person = true;
  co_return outcome;
}

}  // namespace lapwright
