// How a phase ends the whole tune.
#pragma once

#include <string>

#include "tuning/tune.h"

namespace lapwright {

/// Ends the tune from within a phase.
struct TuneStopped {
  TuneEnd end;
  std::string detail;
};

}  // namespace lapwright
