// What the owner types: rehearse, serve, status, watch, halt, show-config.
#pragma once

namespace lapwright {

/// Called as "lapwrightd" it is "lapwright serve". Messages go to stderr. @returns an ExitCode
int run_command_line(int count, char** words);

}  // namespace lapwright
