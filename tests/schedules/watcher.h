// Watches the engine and the current through the schedule, by the railway's truth: the rules that need more than a
// time.
#pragma once

#include <deque>
#include <string>
#include <vector>

#include "drivers/safety/guard_limits.h"
#include "tests/schedules/faulty_board.h"
#include "tests/schedules/schedule.h"

namespace lapwright::schedules {

/// To be asked every `period`. Each rule leaves the guard more room than the guard's own does.
class Watcher {
 public:
  Watcher(const Schedule& schedule, const GuardLimits& limits, const simulated::SimulatedRig& rig, const Feed& feed,
          const FaultyBoard& board, const Asked& asked, const Troubles& troubles);

  void look(Instant now);
  [[nodiscard]] const std::vector<std::string>& complaints() const { return complaints_; }

  static constexpr Duration period = std::chrono::milliseconds(50);

 private:
  void at_rest(Instant now, double went_mm);
  void too_fast(Instant now, double went_mm);
  void no_passage(Instant now);
  void mean_current(Instant now);
  void complain(Instant now, const std::string& what, bool& told);
  [[nodiscard]] bool gates_see(Instant now) const;

  const Schedule& schedule_;
  GuardLimits limits_;
  const simulated::SimulatedRig& rig_;
  const Feed& feed_;
  const FaultyBoard& board_;
  const Asked& asked_;
  const Troubles& troubles_;
  double slowest_mm_s_ = 0;
  double top_mm_s_ = 0;

  double resting_mm_ = 0;  ///< gone though it should stand
  double racing_mm_ = 0;   ///< gone faster than allowed, in one run
  Instant run_began_{};
  struct Reading {
    Instant at;
    double charge_mAs;
  };
  std::deque<Reading> minute_;
  double charge_mAs_ = 0;
  bool told_rest_ = false, told_fast_ = false, told_passage_ = false, told_mean_ = false;
  std::vector<std::string> complaints_;
};

}  // namespace lapwright::schedules
