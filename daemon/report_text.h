// The people's side of a report: plain text for 80 columns, to be read in the morning and kept with the engine.
#pragma once

#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

/// UTF-8. @param railway  its name
[[nodiscard]] std::string report_text(const std::string& railway, const Job& job, const JobResult& result);

}  // namespace lapwright
