// An engine's own page, for the shelf where the paper notebook stood: what it is, how it runs, what its decoder holds.
#pragma once

#include <string>
#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/pages/drift.h"

namespace lapwright {

/// One self-contained HTML file in UTF-8. @param railway  its name @param history  earlier works, oldest first
/// @param at  date and time of this work for people; empty: not told
[[nodiscard]] std::string engine_page(const std::string& railway, const Job& job, const JobResult& result,
                                      const std::vector<EarlierTune>& history, const std::string& at);

}  // namespace lapwright
