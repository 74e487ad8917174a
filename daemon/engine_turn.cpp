#include "daemon/engine_turn.h"

#include <spdlog/fmt/fmt.h>

namespace lapwright {
namespace asio = boost::asio;
namespace {

/// @param at  the job with the address to work at. @param home  the engine's record
asio::awaitable<std::optional<TurnResult>> work_at(const Job& at, const EngineRecord& home, RestoreStage stage,
                                                   TurnMeans means) {
  std::unique_ptr<Placement> engine = co_await means.stand.put_on_track(at.record);
  if (!means.goes_on()) {  // the hardware may have taken its time
    co_await engine->leave();
    co_return std::nullopt;
  }
  JobKeeper keeper(means.memory, means.calendar, means.hours, means.book);
  const JobOrder order{at, home, stage, means.known, means.limits};
  std::optional<TurnResult> over;
  over.emplace();
  over->job = co_await run_job(order, *engine, means.clock, means.button, means.observer, keeper);
  over->again = keeper.again();
  co_await engine->leave();
  co_return over;
}

bool not_there(const std::optional<TurnResult>& over) {
  return over && !over->again && !over->job.stop && !over->job.broken_off && !over->job.fault &&
         over->job.tune.end == TuneEnd::engine_not_found;
}

std::string address_text(const EngineRecord& record) {
  return fmt::format("{} {}", record.long_address ? "long" : "short", record.address);
}

/// A decoder that used to answer and does not, is not there: that takes a moment. One that never did has to be seen
/// moving, which takes a minute where it is not: it is looked for where a reset has left it first.
asio::awaitable<std::optional<TurnResult>> restore_where_found(const Job& job, TurnMeans means) {
  const bool is_factory = !job.record.long_address && job.record.address == factory_address;
  const bool silent = means.known.identity.empty();
  Job factory = job;
  factory.record.address = factory_address;
  factory.record.long_address = false;
  std::optional<TurnResult> found;
  double lost_s = 0;
  if (silent && !is_factory) {
    found = co_await work_at(factory, job.record, RestoreStage::at_factory_address, means);
    if (found) lost_s = found->job.tune.track_s;
  }
  if (!found || not_there(found)) {
    std::optional<TurnResult> at_home = co_await work_at(job, job.record, RestoreStage::whole, means);
    if (at_home) at_home->job.tune.track_s += lost_s;
    const bool elsewhere = not_there(at_home) && !is_factory;
    if (!elsewhere) co_return at_home;
    if (at_home) lost_s = at_home->job.tune.track_s;
    if (!silent) found = co_await work_at(factory, job.record, RestoreStage::at_factory_address, means);
    if (found && !silent) found->job.tune.track_s += lost_s;
  }
  if (not_there(found)) {
    found->job.tune.detail = fmt::format(
        "the decoder is found neither at its address ({}) nor at the factory's (short {}). Check that the "
        "engine stands on this track, and its decoder on a programming track",
        address_text(job.record), factory_address);
    co_return found;
  }
  if (!found || found->again || needs_person(found->job)) co_return found;
  std::optional<TurnResult> proved = co_await work_at(job, job.record, RestoreStage::proof, means);
  if (not_there(proved)) {
    proved = co_await work_at(factory, job.record, RestoreStage::proof, means);
    if (proved) {
      proved->job.troubles.push_back(fmt::format(
          "the decoder does not take its address ({}) on the main, and stays at short {}. Write it on a programming "
          "track; until then the record may say \"address\": {{\"short\": {}}} for works on it",
          address_text(job.record), factory_address, factory_address));
    }
  }
  if (!proved) co_return proved;
  proved->job.told = found->job.told + proved->job.told;
  proved->job.tune.track_s += found->job.tune.track_s;
  co_return proved;
}

}  // namespace

asio::awaitable<std::optional<TurnResult>> take_turn(const Job& job, TurnMeans means) {
  if (job.work == Work::restore) {
    std::optional<TurnResult> restored = co_await restore_where_found(job, means);
    co_return restored;
  }
  std::optional<TurnResult> over = co_await work_at(job, job.record, RestoreStage::whole, means);
  co_return over;
}

}  // namespace lapwright
