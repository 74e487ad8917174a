#include "daemon/staging_turn.h"

#include "daemon/guarded_session.h"
#include "daemon/kept_rig.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

asio::awaitable<void> rest_first(Rig& rig, Clock& clock) {
  for (double due_s = rig.rest_due_s(); due_s > 0; due_s = rig.rest_due_s()) co_await clock.sleep_for(seconds(due_s));
}

asio::awaitable<void> leg_into(StagingRun& run, const Job& job, StagingLeg leg, GuardedRig& guard, KeptRig& kept,
                               Clock& clock) {
  try {
    co_await guard.power_up();
    co_await rest_first(kept, clock);
    const TestTrack& track = job.order.track;
    if (leg == StagingLeg::out) run = co_await come_out(kept, clock, track, *job.place);
    if (leg == StagingLeg::home) run = co_await go_home(kept, clock, track, *job.place);
  } catch (const RigFault& fault) {
    run.what = fault.what();
  }
  const bool unknown = run.arrival == Arrival::lost || run.arrival == Arrival::astray;
  if (unknown && !guard.stopped()) {
    const StopReason reason = run.arrival == Arrival::lost ? StopReason::stalled : StopReason::off_route;
    guard.stop(Stop{reason, title(job.record) + ": " + run.what + "; put it back onto its staging track"});
  }
}

asio::awaitable<void> nothing_to_settle() { co_return; }

asio::awaitable<StagingEnd> run_leg(const Job& job, StagingLeg leg, TurnMeans means) {
  std::unique_ptr<Placement> engine = co_await means.stand.put_on_track(job.record);
  StagingEnd end;
  const AllowedHours to_its_end;  // a way of minutes that was begun within the hours
  JobKeeper keeper(means.memory, means.calendar, to_its_end, means.book);
  GuardLimits limits = guard_limits_of(job, means.limits, keeper);
  limits.cvs = {};
  GuardedRig guard(engine->rig(), engine->power(), means.clock, std::move(limits));
  KeptRig kept(guard, means.book);
  const SessionMeans session{guard, means.clock, means.button, means.observer, keeper};
  asio::awaitable<void> work = leg_into(end.run, job, leg, guard, kept, means.clock);
  asio::awaitable<void> settle = nothing_to_settle();
  const SessionEnd over = co_await run_guarded(session, std::move(work), std::move(settle));
  end.stop = guard.stopped();
  end.broken_off = over.broken_off;
  end.left_dead = guard.safe();
  end.troubles = guard.troubles();
  end.fault = over.fault;
  co_await engine->leave();
  co_return end;
}

}  // namespace

asio::awaitable<StagingEnd> run_staging(const Job& job, StagingLeg leg, TurnMeans means) {
  means.observer.phase(leg == StagingLeg::out ? "coming out of its staging track" : "going home to its staging track");
  StagingEnd end = co_await run_leg(job, leg, means);
  const bool at_factory = !job.record.long_address && job.record.address == factory_address;
  const bool may_be_reset = job.work == Work::restore && !at_factory && end.run.arrival == Arrival::never_left;
  if (!may_be_reset || end.broken_off) co_return end;
  Job factory = job;
  factory.record.address = factory_address;
  factory.record.long_address = false;
  StagingEnd elsewhere = co_await run_leg(factory, leg, means);
  co_return elsewhere;
}

JobResult not_come_out(const Job& job, const StagingEnd& end) {
  JobResult result;
  result.work = job.work;
  result.stop = end.stop;
  result.broken_off = end.broken_off;
  result.left_dead = end.left_dead;
  result.troubles = end.troubles;
  result.fault = end.fault;
  result.tune.end = TuneEnd::engine_not_found;
  result.tune.detail = end.run.what;
  return result;
}

}  // namespace lapwright
