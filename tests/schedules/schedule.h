// One schedule of faults: everything that fixes one job on the simulated railway, drawn from a seed.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/order.h"
#include "drivers/safety/running_watch.h"
#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/railway_description.h"
#include "tests/schedules/fault.h"

namespace lapwright::schedules {

struct Schedule {
  std::uint64_t seed = 0;
  bool decoder_answers = false;
  simulated::RailwayDescription railway;
  simulated::EngineDescription engine;
  Job job;
  RunningLimits running;  ///< the owner's limits
  int writes_per_cv = 60;
  bool top_voltage_left = false;  ///< the owner lets nobody write CV5
  std::vector<Fault> faults;      ///< of different kinds, by their beginning
  double stop_s = 0;              ///< an orderly stop then ends the job, should it still run

  /// Of the first fault of that kind; null where there is none.
  [[nodiscard]] const Fault* has(Kind kind) const;
};

[[nodiscard]] Schedule drawn(std::uint64_t seed);
[[nodiscard]] std::string in_words(const Schedule& schedule);

}  // namespace lapwright::schedules
