// The part of the configuration that says what stops an engine, when it may run, and what follows a trip.
#pragma once

#include <vector>

#include "daemon/allowed_hours.h"
#include "daemon/shift_rules.h"
#include "drivers/safety/guard_limits.h"
#include "drivers/settings/section.h"

namespace lapwright {

/// @param has_sensor  the rig can tell the track current
void read_guard_limits(settings::Section& limits, bool has_sensor, GuardLimits& guard);
[[nodiscard]] RunningCaps read_running_caps(settings::Section& limits);
[[nodiscard]] RetryRule read_retry(settings::Section limits);
[[nodiscard]] LeaveRule read_leave(settings::Section limits);
/// "hours" of the whole configuration: windows with "from" and "to".
[[nodiscard]] AllowedHours read_hours(settings::Section& root);

}  // namespace lapwright
