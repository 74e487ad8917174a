// A whole shift on the simulated railway in virtual time: the same jobs, the same reports, in seconds.
#pragma once

#include <functional>
#include <string_view>

#include "daemon/configuration.h"
#include "daemon/order.h"
#include "daemon/terminal_style.h"

namespace lapwright {

/// Writes progress and a closing table with `write`, and the reports as configured. @returns an ExitCode
/// @throws FileLost
int rehearse(const Configuration& configuration, const std::vector<Job>& jobs, TerminalStyle style,
             const std::function<void(std::string_view)>& write);

}  // namespace lapwright
