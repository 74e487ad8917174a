// What the program's exit status says; the one place where the numbers stand. Where sysexits.h has a meaning, it is
// kept.
#pragma once

#include <cerrno>

namespace lapwright {

enum ExitCode : int {
  exit_ok = 0,
  exit_needs_person = 1,    ///< the work is done or stopped, but an engine needs a person: see its report
  exit_usage = 2,           ///< the command line was not understood
  exit_bad_data = 65,       ///< a mistake in an engine record or a target sheet
  exit_not_reachable = 69,  ///< no service answers at the control socket
  exit_internal = 70,       ///< a fault of the program: a rehearsal that stalls, among others
  exit_not_made = 73,       ///< a file can't be made: its folder is none, is read-only, or the disk is full
  exit_io = 74,             ///< a file or socket could not be read or written
  exit_in_use = 75,         ///< another service has the control socket or the state folder, or another program a link
  exit_not_allowed = 77,    ///< the user of this program may not write a file
  exit_configuration = 78,  ///< a mistake in the configuration
};

/// @param error  an errno; 0: what stands in a file is the trouble
[[nodiscard]] constexpr ExitCode exit_of_file(int error) {
  switch (error) {
    case EACCES:
    case EPERM:
      return exit_not_allowed;
    case ENOTDIR:
    case EEXIST:
    case ENOSPC:
    case EDQUOT:
    case EROFS:
      return exit_not_made;
    default:
      return exit_io;
  }
}

}  // namespace lapwright
