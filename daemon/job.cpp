#include "daemon/job.h"

#include <algorithm>
#include <boost/asio/this_coro.hpp>
#include <map>
#include <utility>

#include "daemon/guarded_session.h"
#include "daemon/job_work.h"
#include "daemon/kept_rig.h"
#include "daemon/staging_turn.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double settle_limit_s = 20;  // for writing back a handful of CVs, three tries each

/// Keeps what a tune has told, so that nothing measured is lost when it is broken off.
class Notes final : public TuneObserver {
 public:
  Notes(TuneObserver& next, JobBook& book) : next_(next), book_(book) {}
  void phase(const std::string& what) override { next_.phase(what); }
  void pass(int step, Direction direction, double speed_mm_s) override {
    ++passes_;
    next_.pass(step, direction, speed_mm_s);
  }
  void settled(const CellResult& cell) override {
    cells_[{cell.step, cell.direction}] = cell;
    if (!recalls_) book_.settled(cell);
    next_.settled(cell);
  }
  void withdrawn(const CellResult& cell) override {
    cells_.erase({cell.step, cell.direction});
    if (!recalls_) book_.withdrawn(cell);
    next_.withdrawn(cell);
  }
  void progress(int settled_cells, int all_cells) override { next_.progress(settled_cells, all_cells); }
  void heard(const Heard& what) override { book_.heard(what); }
  void recalls(bool still) override {
    recalls_ = still;
    if (!still) book_.recalled(cells_);
    next_.recalls(still);
  }

  /// All cells of the order; those without a verdict were interrupted.
  [[nodiscard]] std::vector<CellResult> cells(const TuneOrder& order) const {
    std::vector<CellResult> result;
    for (const StepAim& aim : order.aims) {
      if (!aim.prove) continue;
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        CellResult cell;
        cell.step = aim.step;
        cell.direction = direction;
        cell.target_mm_s = aim.speed_mm_s;
        cell.tolerance_mm_s = aim.tolerance_mm_s;
        cell.shortfall = Shortfall::interrupted;
        const auto told = cells_.find({aim.step, direction});
        result.push_back(told == cells_.end() ? cell : told->second);
      }
    }
    return result;
  }
  [[nodiscard]] int passes() const { return passes_; }

 private:
  TuneObserver& next_;
  JobBook& book_;
  std::map<std::pair<int, Direction>, CellResult> cells_;
  int passes_ = 0;
  bool recalls_ = false;
};

asio::awaitable<void> work_into(JobResult& result, std::optional<TuneResult>& tuned, GuardedRig& guard,
                                WorkMeans means) {
  try {
    co_await guard.power_up();
    // Whoever was here last may have left them set, a crash or a trip on the way for instance.
    if (means.job.order.track.staging) co_await guard.set_route(0);
  } catch (const RigFault&) {
    co_return;  // the guard has latched the reason
  }
  co_await do_work(result, tuned, means);
  // It does not go where it is told to, or is not where it should be: a person has to look at it.
  if (tuned && tuned->end == TuneEnd::position_lost) {
    guard.stop(Stop{StopReason::stalled, "stalled or lost " + guard.place() + ": " + tuned->detail});
  }
}

asio::awaitable<void> settle_into(std::vector<std::string>& troubles, CvLedger& ledger, Rig& rig) {
  try {
    co_await ledger.settle(rig);
  } catch (const RigFault& fault) {
    troubles.push_back(std::string("not everything could be written back: ") + fault.what());
  } catch (const CvRefused& refused) {
    troubles.push_back(std::string("not everything could be written back: ") + refused.what());
  }
}

asio::awaitable<void> cancel_later(Background& work, Clock& clock, double limit_s) {
  co_await clock.sleep_for(seconds(limit_s));
  work.cancel();
}

std::string text_of(const std::exception_ptr& failure) {
  try {
    std::rethrow_exception(failure);
  } catch (const std::exception& fault) {
    return fault.what();
  }
}

/// A fresh coroutine, since one that was cancelled can't wait any more.
asio::awaitable<void> pay_debts(CvLedger& ledger, GuardedRig& guard, Clock& clock, std::vector<std::string>& troubles) {
  if (ledger.owed().empty()) co_return;
  const auto executor = co_await asio::this_coro::executor;
  Background work(executor, settle_into(troubles, ledger, guard));
  Background limit(executor, cancel_later(work, clock, settle_limit_s));
  co_await work.wait();
  limit.cancel();
  co_await limit.wait();
  if (work.was_cancelled()) troubles.push_back("writing back took longer than allowed and was given up");
  if (work.failure()) troubles.push_back("writing back failed: " + text_of(work.failure()));
}

/// @param table_on  the work has switched the speed table on, by a bit of CV29 alone
std::map<int, std::uint8_t> cvs_now(const Job& job, const CvLedger& ledger, bool table_on) {
  std::map<int, std::uint8_t> result = ledger.memory().found;
  for (const auto& [number, value] : ledger.written()) result[number] = value;
  for (const int number : {cv::acceleration, cv::deceleration, cv::configuration}) {
    const auto stated = job.record.cvs.find(number);
    if (const auto known = ledger.known(number)) {
      result[number] = *known;
    } else if (stated != job.record.cvs.end() && !ledger.owed().contains(number)) {
      result[number] = stated->second;
    }
  }
  if (const auto held = result.find(cv::configuration); table_on && held != result.end()) {
    held->second |= 1U << cv::table_bit;
  }
  return result;
}

std::vector<std::string> unprotected(const Placement& engine, const GuardedRig& guard) {
  std::vector<std::string> missing = engine.unprotected();
  if (!guard.has_current_sensor()) missing.push_back("no current sensor: a short circuit or stall is not noticed");
  return missing;
}

/// What it came to, or what had been settled before it was broken off.
void tell_tune(JobResult& result, const std::optional<TuneResult>& tuned, const Notes& notes, const Job& job) {
  if (tuned) result.tune = *tuned;
  if (!tuned) result.tune.passes = notes.passes();
  const bool unfinished = !tuned || (result.work == Work::tune && result.tune.cells.empty());
  if (unfinished) result.tune.cells = notes.cells(job.order);
}

/// Of an engine that has to go home after its work.
void keep_time_for_the_way_home(const Job& job, RunningLimits& running) {
  if (!job.place) return;
  for (RunningCap& cap : running.caps) cap.left_s = std::max(cap.left_s - way_home_s, 0.0);
}

}  // namespace

GuardLimits guard_limits_of(const Job& job, GuardLimits limits, const JobKeeper& keeper) {
  limits.running = keeper.running(limits.running);
  const CurrentLimits usual = usual_limits(job.record.scale.ratio);
  if (limits.usual_peak) limits.current.peak_mA = usual.peak_mA;
  if (limits.usual_mean) limits.current.mean_mA = usual.mean_mA;
  for (const StepAim& aim : job.order.aims) {
    if (!aim.prove) continue;
    MotionLimits& motion = limits.motion;
    motion.sheet_top_mm_s = std::max(motion.sheet_top_mm_s, aim.speed_mm_s);
    const bool first = motion.sheet_slowest_mm_s <= 0;
    motion.sheet_slowest_mm_s = first ? aim.speed_mm_s : std::min(motion.sheet_slowest_mm_s, aim.speed_mm_s);
  }
  limits.motion.track = job.order.track;
  return limits;
}

asio::awaitable<JobResult> run_job(JobOrder job_order, Placement& engine, Clock& clock, StopButton& button,
                                   ShiftObserver& observer, JobKeeper& keeper) {
  const Job& job = job_order.job;
  const Instant began = clock.now();
  const std::set<int> allowed = allowed_cvs(job, job_order.known, job_order.limits.cvs);
  GuardLimits limits = guard_limits_of(job, job_order.limits, keeper);
  keep_time_for_the_way_home(job, limits.running);
  limits.cvs = allowed;
  limits.motion.earlier_mm_s = keeper.book().shown_mm_s();
  GuardedRig guard(engine.rig(), engine.power(), clock, std::move(limits));
  JobBook& book = keeper.book();
  const TuneOrder order = book.order_from_here(job.order);
  CvLedger ledger(book.memory_from_here(), &book);
  KeptRig kept(guard, book);
  Notes notes(observer, book);
  std::optional<TuneResult> tuned;
  JobResult result;
  result.work = job.work;
  const WorkMeans means{job,  job_order.home, job_order.stage, job_order.known, order, allowed,
                        kept, clock,          ledger,          notes,           book};
  const SessionMeans session{guard, clock, button, observer, keeper};
  asio::awaitable<void> work = work_into(result, tuned, guard, means);
  asio::awaitable<void> debts = pay_debts(ledger, guard, clock, result.troubles);
  const SessionEnd end = co_await run_guarded(session, std::move(work), std::move(debts));
  result.fault = end.fault;
  result.broken_off = end.broken_off;
  result.stop = guard.stopped();
  result.left_dead = guard.safe();
  result.owed = ledger.owed();
  const bool table_on = result.work == Work::tune && tuned && tuned->traits.table_enabled.value_or(false);
  result.cvs = cvs_now(job, ledger, table_on);
  result.identity = book.story().identity;
  result.before = book.story().before;
  result.unprotected = unprotected(engine, guard);
  result.seed = engine.seed();
  result.troubles.insert(result.troubles.end(), guard.troubles().begin(), guard.troubles().end());
  tell_tune(result, tuned, notes, job);
  result.tune.writes = ledger.writes();
  if (result.tune.track_s <= 0) result.tune.track_s = in_seconds(clock.now() - began);
  co_return result;
}

}  // namespace lapwright
