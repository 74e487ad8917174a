// The parts of an engine's page that tell of its decoder: momentum, every CV by name and meaning, the speed table.
#pragma once

#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

/// Seconds by the standard's formula, for gathering and losing speed. Markup.
[[nodiscard]] std::string momentum_section(const Job& job, const JobResult& result);

/// What the decoder holds after the work and, where the work did not touch a CV, what the owner's record says. Markup.
[[nodiscard]] std::string cv_section(const Job& job, const JobResult& result);

}  // namespace lapwright
