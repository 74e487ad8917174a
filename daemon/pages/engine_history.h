// The part of an engine's page that tells of earlier works and of what has changed since.
#pragma once

#include <string>
#include <vector>

#include "daemon/order.h"
#include "daemon/pages/drift.h"

namespace lapwright {

/// Earlier works, the newest first, and the drift since the last one that measured. Markup.
/// @param history  oldest first
[[nodiscard]] std::string history_section(const Job& job, const std::vector<StepResult>& now,
                                          const std::vector<EarlierTune>& history);

}  // namespace lapwright
