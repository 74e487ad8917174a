// What stands beside the engine on the same feed draws current, too: decoders and lamps of engines in staging tracks.
#pragma once

#include <algorithm>
#include <optional>

namespace lapwright {

/// What one engine's decoder and lamps may draw while it stands: common practice, no source.
inline constexpr double own_standing_mA = 40;

/// @param standing_mA  read of the live track while nothing runs; empty: not known. @returns mA that are not the
/// engine's, and stay the same while it runs
[[nodiscard]] inline double drawn_by_others_mA(std::optional<double> standing_mA) {
  return std::max(standing_mA.value_or(0) - own_standing_mA, 0.0);
}

}  // namespace lapwright
