// One job of one engine as the service runs it, guard and all, on the simulated railway and the virtual clock.
#pragma once

#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/job.h"
#include "drivers/simulated/simulated_rig.h"
#include "drivers/virtual_clock.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {

/// A calendar that goes with the virtual clock.
class VirtualCalendar final : public Calendar {
 public:
  VirtualCalendar(const Clock& clock, std::time_t begins) : clock_(clock), begins_(begins) {}
  [[nodiscard]] std::time_t now() const override {
    return begins_ + static_cast<std::time_t>(in_seconds(clock_.now().time_since_epoch()));
  }

 private:
  const Clock& clock_;
  std::time_t begins_;
};

class GuardedNight {
 public:
  explicit GuardedNight(Plan plan);
  ~GuardedNight();

  // To be set before `run`.
  GuardLimits limits;
  RunningCaps caps;
  AllowedHours hours;
  std::filesystem::path state = {};                   ///< folder; empty: nothing is kept
  std::time_t begins = 1'795'000'000;                 ///< time of day
  std::optional<JobStory> told = {};                  ///< by a night that was broken off; after `run` by this one
  std::function<double(double now_s)> disk_s = {};    ///< how long a write takes; none: no time at all
  std::function<void(double now_s)> each_100ms = {};  ///< the world's own doings, faults among them

  void run(double limit_s = 24 * 3600);
  /// A person, or a signal.
  [[nodiscard]] StopButton& button();

  [[nodiscard]] const JobResult& result() const { return result_; }
  [[nodiscard]] std::string reason() const { return result_.stop ? std::string(code(result_.stop->reason)) : "none"; }
  [[nodiscard]] simulated::SimulatedRig& rig();
  [[nodiscard]] double now_s() const;
  [[nodiscard]] double dead_at_s() const { return dead_at_s_; }                   ///< when the rails went dead for good
  [[nodiscard]] const std::vector<std::string>& waits() const { return waits_; }  ///< what was told of pauses
  [[nodiscard]] int proved_again() const { return proved_again_; }                ///< passes of what stood as proved
  [[nodiscard]] double longest_stand_s() const { return longest_stand_s_; }
  [[nodiscard]] ShiftMemory& memory();
  [[nodiscard]] int cv(int number);

 private:
  struct Stage;
  boost::asio::awaitable<void> work();
  boost::asio::awaitable<void> world();

  Plan plan_;
  JobResult result_;
  std::vector<std::string> waits_;
  int proved_again_ = 0;
  double dead_at_s_ = 0;
  double longest_stand_s_ = 0;
  bool over_ = false;
  std::unique_ptr<Stage> stage_;
};

/// The same engine on the same track, where its plan has it stand, and cold again; its decoder is as the night has left
/// it.
[[nodiscard]] Plan set_down_again(Plan plan, GuardedNight& night);
/// Runs the night, and asks it to stop then.
void break_off(GuardedNight& night, double at_s);
[[nodiscard]] int proved_steps(const JobResult& result);  ///< each direction counts

}  // namespace lapwright::shifts
