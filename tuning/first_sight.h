// What the gates told of the engine when they saw it first, for the probes to begin with.
#pragma once

#include <cstddef>

namespace lapwright {

struct FirstSight {
  double drive = 0;                ///< counts
  double speed = 0;                ///< units
  std::size_t remarks_before = 0;  ///< later ones fall with a sight that proves false
};

}  // namespace lapwright
