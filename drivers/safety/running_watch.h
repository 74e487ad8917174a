// The rules about time: how long an engine may run on end before it has to rest, and how long in all.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "drivers/safety/stop_reason.h"
#include "tuning/clock.h"

namespace lapwright {

/// One cap on running time and what of it is left to this job.
struct RunningCap {
  std::string what;  ///< "of one engine in a day", for people
  double limit_s = 0;
  double left_s = 0;
};

struct RunningLimits {
  double continuous_s = 1800;  ///< of running on end; then the engine has to rest
  double rest_s = 600;         ///< of standing makes a rested engine of a tired one, less in proportion
  double tired_s = 0;          ///< of running on end that the engine brings along
  std::vector<RunningCap> caps;
};

/// Pure: time is an argument. A motor takes up heat while it runs and gives it off while it stands: so an engine that
/// stands now and then runs on for longer.
class RunningWatch {
 public:
  RunningWatch(RunningLimits limits, Instant begun);

  void runs(Instant now, bool runs);
  [[nodiscard]] double running_s(Instant now) const;
  /// How long it still has to stand; 0: it may run. Once due, a rest is due until it was taken in full.
  [[nodiscard]] double rest_due_s(Instant now);
  /// It was due for so long that whoever drives the engine does not see to it.
  [[nodiscard]] bool overdue(Instant now);
  [[nodiscard]] std::optional<Stop> look(Instant now) const;
  [[nodiscard]] double tired_s(Instant now) const;  ///< of running on end

 private:
  RunningLimits limits_;
  bool runs_ = false;
  Instant since_;
  double ran_s_ = 0;  ///< up to `since_`
  double tired_s_;    ///< up to `since_`
  std::optional<Instant> due_since_;
};

}  // namespace lapwright
