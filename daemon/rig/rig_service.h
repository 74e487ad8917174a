// Serves railways until a signal ends it.
#pragma once

#include "daemon/rig/rig_file.h"

namespace lapwright {

/// What happens is told on stdout, with seconds since the start and the rig's name. @returns an ExitCode
/// @throws SocketInUse, SocketTrouble, std::system_error
int serve_rigs(const RigFile& file);

}  // namespace lapwright
