// One schedule carried out on the virtual clock, and what was wrong with it by the railway's truth.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tests/schedules/judge.h"
#include "tests/schedules/schedule.h"

namespace lapwright::schedules {

struct Outcome {
  std::vector<std::string> complaints;  ///< empty: all is as it should be
  std::vector<Demand> demands;
  std::string ended_by;  ///< the stop's code, or what else ended the job
  std::string phase;     ///< that the tune had come to
  int passes = 0;
  int settled = 0;  ///< cells
  double job_s = 0;
};

[[nodiscard]] Outcome carried_out(const Schedule& schedule);

}  // namespace lapwright::schedules
