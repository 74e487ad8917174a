// One page for a shift, to be read in the morning: what needs a person first, then every engine with its outcome.
#pragma once

#include <span>
#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

/// A shift as far as it has come.
struct Morning {
  std::string railway;                 ///< its name
  std::span<const Job> jobs;           ///< of the whole shift
  std::size_t first = 0;               ///< jobs before it were seen through before the shift went on with this one
  std::span<const JobResult> results;  ///< of the jobs from `first` on
  std::string trouble;                 ///< why the next engine could not be taken; empty where that was not so
  bool over = true;                    ///< false: it is at work on the first engine without a result
  std::string at;                      ///< date and time of the page for people; empty: not told
};

/// One self-contained HTML file in UTF-8, with links to the engines' pages beside it.
[[nodiscard]] std::string morning_page(const Morning& morning);

}  // namespace lapwright
