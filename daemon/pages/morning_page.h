// One page for a shift, to be read in the morning: what needs a person first, then every engine with its outcome.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

/// One job of the shift.
struct MorningJob {
  std::string engine;  ///< its title
  std::string stem;    ///< of its files
  std::string sheet;   ///< the name
  const Job* job = nullptr;
  const JobResult* result = nullptr;  ///< null, as the job: it has none from this run of the service
  std::optional<bool> earlier = {};   ///< it was seen through before that; whether it needs a person
};

/// A shift as far as it has come; what its turns point to outlives it.
struct Morning {
  std::string railway;            ///< its name
  std::vector<MorningJob> turns;  ///< every job, in the shift's order
  std::string trouble;            ///< why the next engine could not be taken; empty where that was not so
  bool over = true;               ///< false: it is at work on the first engine that has not been seen through
  std::string at;                 ///< date and time of the page for people; empty: not told
};

/// One self-contained HTML file in UTF-8, with links to the engines' pages beside it.
[[nodiscard]] std::string morning_page(const Morning& morning);

}  // namespace lapwright
