#include "tests/shifts/guarded_night.h"

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <cmath>
#include <set>
#include <stdexcept>

#include "drivers/simulated/simulated_power.h"
#include "tests/job_bench.h"

namespace lapwright::shifts {
namespace asio = boost::asio;
namespace {

class BareRails final : public Placement {
 public:
  explicit BareRails(simulated::SimulatedRig& rig) : rig_(rig), power_(rig) {}
  [[nodiscard]] Rig& rig() override { return rig_; }
  [[nodiscard]] TrackPower& power() override { return power_; }
  asio::awaitable<void> leave() override { co_return; }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return {}; }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return std::nullopt; }

 private:
  simulated::SimulatedRig& rig_;
  simulated::SimulatedPower power_;
};

/// Keeps what is waited for, and counts the passes of steps that stand as proved.
class NightObserver final : public ShiftObserver {
 public:
  NightObserver(std::vector<std::string>& waits, int& proved_again) : waits_(waits), proved_again_(proved_again) {}
  void engine_begins(const Job&, int, int) override {}
  void engine_ends(const Job&, const JobResult&) override {}
  void waits(const std::string& why) override { waits_.push_back(why); }
  void phase(const std::string&) override {}
  void recalls(bool still) override { recalls_ = still; }
  void pass(int step, Direction direction, double) override {
    if (!recalls_ && proved_.contains({step, direction})) ++proved_again_;
  }
  void settled(const CellResult& cell) override {
    if (cell.verdict == Verdict::proved) proved_.emplace(cell.step, cell.direction);
  }
  void withdrawn(const CellResult& cell) override { proved_.erase({cell.step, cell.direction}); }
  void progress(int, int) override {}

 private:
  std::vector<std::string>& waits_;
  int& proved_again_;
  std::set<std::pair<int, Direction>> proved_;
  bool recalls_ = false;
};

class TimedDisk final : public Worker {
 public:
  TimedDisk(Clock& clock, const std::function<double(double)>& takes_s) : clock_(clock), takes_s_(takes_s) {}
  asio::awaitable<void> run(std::function<void()> work) override {
    work();
    const Duration takes = seconds(takes_s_ ? takes_s_(in_seconds(clock_.now().time_since_epoch())) : 0);
    co_await clock_.sleep_for(takes);
  }

 private:
  Clock& clock_;
  const std::function<double(double)>& takes_s_;
};

}  // namespace

struct GuardedNight::Stage {
  Stage(const Plan& plan, GuardedNight& night)
      : rig(plan.railway, plan.engine, clock, plan.seed),
        rails(rig),
        calendar(clock, night.begins),
        disk(clock, night.disk_s),
        memory(storage, night.state, calendar, night.caps, RetryRule{}),
        observer(night.waits_, night.proved_again_) {}
  VirtualClock clock;
  asio::io_context context{1};
  simulated::SimulatedRig rig;
  BareRails rails;
  VirtualCalendar calendar;
  RealStorage storage;
  TimedDisk disk;
  ShiftMemory memory;
  StopButton button;
  NightObserver observer;
};

GuardedNight::GuardedNight(Plan plan) : plan_(std::move(plan)) {}
GuardedNight::~GuardedNight() = default;

StopButton& GuardedNight::button() { return stage_->button; }
simulated::SimulatedRig& GuardedNight::rig() { return stage_->rig; }
ShiftMemory& GuardedNight::memory() { return stage_->memory; }
double GuardedNight::now_s() const { return in_seconds(stage_->clock.now().time_since_epoch()); }
int GuardedNight::cv(int number) { return stage_->rig.decoder().cv(number); }

asio::awaitable<void> GuardedNight::work() {
  Job job;
  job.record.name = plan_.engine.name;
  job.record.road_number = plan_.engine.road_number;
  job.order = plan_.order;
  JobStory story = told.value_or(JobBench::story_of(title(job.record)));
  JobBench bench({}, stage_->calendar, std::move(story), &stage_->disk);
  JobKeeper keeper(stage_->memory, stage_->calendar, hours, bench.book);
  const KnownEngine unknown;
  const JobOrder order{job, job.record, RestoreStage::whole, unknown, limits};
  const JobResult result =
      co_await run_job(order, stage_->rails, stage_->clock, stage_->button, stage_->observer, keeper);
  result_ = result;
  told = bench.book.story();
  over_ = true;
  stage_->rig.stop();
}

asio::awaitable<void> GuardedNight::world() {
  double stands_since_s = 0;
  while (!over_) {
    const double now = now_s();
    if (each_100ms) each_100ms(now);
    if (stage_->rig.railway().power()) dead_at_s_ = now;
    if (std::abs(stage_->rig.engine().speed_mm_s()) > 0.01) stands_since_s = now;
    longest_stand_s_ = std::max(longest_stand_s_, now - stands_since_s);
    co_await stage_->clock.sleep_for(std::chrono::milliseconds(100));
  }
}

void GuardedNight::run(double limit_s) {
  stage_ = std::make_unique<Stage>(plan_, *this);
  stage_->rig.set_power(false);
  std::exception_ptr trouble;
  const auto ended = [&](const std::exception_ptr& failure) {
    if (failure && !trouble) trouble = failure;
    if (failure) over_ = true;
  };
  asio::co_spawn(stage_->context, stage_->rig.run(), ended);
  asio::co_spawn(stage_->context, work(), ended);
  asio::co_spawn(stage_->context, world(), ended);
  constexpr double slice_s = 20;
  for (double spent_s = 0; !over_ && spent_s < limit_s; spent_s += slice_s) {
    stage_->clock.run(stage_->context, seconds(slice_s));
  }
  if (trouble) std::rethrow_exception(trouble);
  if (!over_) throw std::runtime_error("the job was not through after " + std::to_string(limit_s) + " s");
  stage_->clock.run(stage_->context, seconds(slice_s));
}

Plan set_down_again(Plan plan, GuardedNight& night) {
  for (int number = 1; number <= 256; ++number) {
    plan.engine.decoder.cvs[number] = static_cast<std::uint8_t>(night.cv(number));
  }
  return plan;
}

void break_off(GuardedNight& night, double at_s) {
  night.each_100ms = [&night, at_s](double now_s) {
    if (now_s >= at_s) night.button().stop();
  };
  night.run();
}

int proved_steps(const JobResult& result) {
  return static_cast<int>(std::ranges::count(result.tune.cells, Verdict::proved, &CellResult::verdict));
}

}  // namespace lapwright::shifts
