// What the gates told of the engine when they saw it first, for the probes to begin with.
#pragma once

#include <cstddef>

namespace lapwright {

/// The step that the engine is looked for with. With the table switched off its value means CV2 = 0: an engine that
/// can't run away.
inline constexpr int find_step = 1;
inline constexpr double highest_find_value = 170;  ///< of the table, for an engine that is not known yet
inline constexpr double find_rise = 1.10;          ///< of the value, each second
inline constexpr double slowest_find_share = 0.1;  ///< of the sheet's top speed

struct FirstSight {
  double drive = 0;                ///< counts
  double speed = 0;                ///< units
  std::size_t remarks_before = 0;  ///< later ones fall with a sight that proves false
};

}  // namespace lapwright
