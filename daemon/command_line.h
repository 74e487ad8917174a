// What the owner types is carried out; what can be typed stands in daemon/command_tree.h.
#pragma once

namespace lapwright {

/// Called as "lapwrightd" it is "lapwright serve". Messages go to stderr. @returns an ExitCode
int run_command_line(int count, char** words);

}  // namespace lapwright
