#include "tests/schedules/stage.h"

#include <algorithm>
#include <boost/asio/co_spawn.hpp>

#include "daemon/job.h"
#include "tests/job_bench.h"
#include "tuning/cv.h"

namespace lapwright::schedules {
namespace asio = boost::asio;
namespace {

constexpr double longest_freeze_s = 4;
constexpr double way_out_s = 100;          // from the last thing that happens to the end of the job
constexpr double guard_may_take_s = 0.32;  // to make the rails dead at the end, when the station says nothing
constexpr int factory_reset = 8;           // written to CV8
constexpr int most_bits = 255;

}  // namespace

Stage::Stage(const Schedule& played)
    : schedule(played),
      railway(played.railway, played.engine, clock, played.seed),
      feed(clock, [this](bool live) { railway.set_power(live); }),
      board(railway, feed, clock, host, troubles, asked, played.seed ^ 0x626f617264ULL),
      rig(railway, feed, board, clock, host, troubles, asked, played.decoder_answers),
      watcher(played, limits, railway, feed, board, asked, troubles) {
  railway.set_power(false);
  limits.writes_per_cv = played.writes_per_cv;
  limits.running = played.running;
  if (played.top_voltage_left) limits.cvs.erase(cv::top_voltage);
}

void Stage::spawn(asio::awaitable<void> part) {
  asio::co_spawn(context, std::move(part), [](const std::exception_ptr& failure) {
    if (failure) std::rethrow_exception(failure);
  });
}

bool Stage::play() {
  double last_s = schedule.stop_s;
  for (const Fault& fault : schedule.faults) {
    spawn(happen(fault));
    last_s = std::max(last_s, fault.ends_s());
  }
  spawn(railway.run());
  spawn(feed.run());
  spawn(board.pass_edges());
  spawn(board.chatter());
  spawn(board.keep_alive());
  spawn(watch());
  spawn(stop_in_order());
  spawn(job());
  return clock.run(context, seconds(last_s + way_out_s)) == VirtualClock::Outcome::finished;
}

asio::awaitable<void> Stage::job() {
  JobBench bench({}, calendar, JobBench::story_of(title(schedule.job.record)));
  JobKeeper keeper(memory, calendar, hours, bench.book);
  const KnownEngine unknown;
  const JobOrder order{schedule.job, schedule.job.record, RestoreStage::whole, unknown, limits};
  result = co_await run_job(order, rig, host, button, notebook, keeper);
  ended_s = now_s();
  const Instant a_while_later = clock.now() + std::chrono::seconds(2);
  co_await clock.sleep_until(a_while_later);
  board.stop();
  feed.stop();
  railway.stop();
}

asio::awaitable<void> Stage::happen(Fault fault) {
  const Instant begins = Instant{} + seconds(fault.at_s);
  co_await clock.sleep_until(begins);
  if (over()) co_return;
  if (fault.kind == Kind::hand) co_await pass_by_hand(fault);
  if (fault.kind == Kind::hand) co_return;
  if (fault.kind == Kind::halt_pressed || fault.kind == Kind::stop_pressed) {
    co_await press(fault);
    co_return;
  }
  if (fault.kind == Kind::host_late || fault.kind == Kind::host_killed) {
    fault.lasts_s = fault.kind == Kind::host_killed ? longest_freeze_s : std::min(fault.lasts_s, longest_freeze_s);
    host.freeze(begins + seconds(fault.lasts_s));
  }
  happened.push_back(fault);
  troubles.begin(fault);
  rig.begins(fault);
  if (fault.kind == Kind::relay_welded) feed.weld(true);
  if (fault.kind == Kind::motor_stalled) railway.hold_engine(true);
  if (fault.kind == Kind::engine_lifted) railway.lift_engine(true);
  if (fault.kind == Kind::decoder_reset) railway.decoder().set_cv(cv::maker_id, factory_reset);
  for (int entry = 1; fault.kind == Kind::engine_races && entry <= cv::table_entries; ++entry) {
    railway.decoder().set_cv(cv::table_entry(entry), most_bits);
  }
  co_await clock.sleep_for(seconds(fault.lasts_s));
  rig.ends(fault);
  troubles.end(fault.kind);
  if (fault.kind == Kind::relay_welded) feed.weld(false);
  if (fault.kind == Kind::motor_stalled) railway.hold_engine(false);
  if (fault.kind == Kind::engine_lifted) railway.lift_engine(false);
}

asio::awaitable<void> Stage::press(Fault fault) {
  co_await host.awake();
  if (over()) co_return;
  if (fault.kind == Kind::stop_pressed) {
    button.stop();
    co_return;
  }
  fault.at_s = now_s();
  fault.lasts_s = 0;
  happened.push_back(fault);
  const std::string who = "a person";
  co_await button.make_dead(who);
}

/// As soon as the engine stands for longer than it may coast, while the beam is clear.
asio::awaitable<void> Stage::pass_by_hand(Fault fault) {
  const Duration coasts = seconds(limits.motion.coast_s) + std::chrono::milliseconds(50);
  const Duration passage = seconds(schedule.job.order.track.quiet_s) + std::chrono::milliseconds(20);
  const auto unsure = [this](Kind kind) { return schedule.has(kind) != nullptr; };
  const bool sure = !unsure(Kind::edges_missed) && !unsure(Kind::gate_dead) && !unsure(Kind::gate_chatters) &&
                    !unsure(Kind::board_silent) && !unsure(Kind::board_mute) && !unsure(Kind::board_lost);
  const Instant until = clock.now() + seconds(fault.lasts_s);
  while (clock.now() < until && !over()) {
    const bool stands = asked.stands_since && clock.now() - *asked.stands_since > coasts;
    if (stands && feed.live() && board.gate_is_clear(fault.gate)) break;
    co_await clock.sleep_for(Watcher::period);
  }
  if (clock.now() >= until || over()) co_return;
  const std::optional<Instant> stood_since = asked.stands_since;
  fault.at_s = now_s();
  fault.lasts_s = 0;
  // Where the job ends just now, the rails go dead because of that.
  const bool ends = asked.halted && fault.at_s - in_seconds(asked.halted_last - Instant{}) < guard_may_take_s;
  board.edge(fault.gate, true);
  co_await clock.sleep_for(passage);
  if (sure && !ends && !over() && asked.stands_since == stood_since) happened.push_back(fault);
  board.edge(fault.gate, false);
}

asio::awaitable<void> Stage::stop_in_order() {
  const Instant due = Instant{} + seconds(schedule.stop_s);
  co_await clock.sleep_until(due);
  co_await host.awake();
  if (!over()) button.stop();
}

asio::awaitable<void> Stage::watch() {
  while (!over()) {
    co_await clock.sleep_for(Watcher::period);
    watcher.look(clock.now());
  }
}

}  // namespace lapwright::schedules
