// Which gates time the engine: the trap between two of them, or a whole lap past one.
#pragma once

#include <optional>
#include <string>

#include "tuning/pass_reader.h"
#include "tuning/target_sheet.h"
#include "tuning/test_track.h"

namespace lapwright {

/// What the owner wishes; empty: chosen from the track.
struct TrapWish {
  std::string low_gate;        ///< by name, first met in forward running; the gate of a lap
  std::string high_gate;       ///< by name; not used for a lap
  double longest_share = 0.4;  ///< of the track's length that a chosen trap may span
  double length_error_mm = 5;  ///< standard uncertainty of the loop's length, which is the base of a lap
};

/// For a trap: the two wished gates, or the pair with the longest base that is no longer than the share. Its base error
/// is the root of the sum of squares of the gates' errors. For a lap: one gate, and the loop's length as base.
/// @throws std::invalid_argument  where the track has no such trap, with what to do
[[nodiscard]] Trap choose_trap(const TestTrack& track, SpeedOver over, const TrapWish& wish);

/// In words: "over the trap west - east, 150.0 mm ±0.3 mm". UTF-8.
[[nodiscard]] std::string describe(const TestTrack& track, const Trap& trap);

}  // namespace lapwright
