// Drive level: what the speed table, the trims and CV2/CV5 make of a step, in counts of 1/255 of full drive.
#pragma once

#include <array>
#include <optional>

#include "tuning/cv.h"
#include "tuning/throttle.h"

namespace lapwright {

/// How this decoder behaves where the standard leaves room. Empty: not known yet.
struct Traits {
  std::optional<bool> trims_act;     ///< CV66 and CV95 scale the drive level by n/128
  std::optional<bool> table_scaled;  ///< the table spans CV2 … CV5 instead of 0 … 255 (RCN-225 leaves it to the maker)
  std::optional<bool> table_enabled;  ///< CV29 bit 4 is set and has an effect
};

/// The values that fix the drive level of every step.
struct DriveSettings {
  int start_voltage = 0;                          ///< CV2
  int top_voltage = 255;                          ///< CV5
  std::array<int, 2> trim = {128, 128};           ///< CV66, CV95: indexed by direction
  std::array<int, cv::table_entries> table = {};  ///< CV67 … CV94
  bool operator==(const DriveSettings&) const = default;
};

[[nodiscard]] constexpr std::size_t index(Direction direction) { return direction == Direction::forward ? 0 : 1; }

/// Drive in counts (0 … 255, fractional) that a table value gives in one direction. Unknown traits count as absent.
[[nodiscard]] double drive_of_value(const Traits& traits, const DriveSettings& settings, double value,
                                    Direction direction);

/// The table value (fractional, unlimited) whose drive is `drive`: the inverse of `drive_of_value` below full drive.
[[nodiscard]] double value_of_drive(const Traits& traits, const DriveSettings& settings, double drive,
                                    Direction direction);

/// Position of a step in the table as entry number 1 … 28, fractional between entries. 28 steps are the entries; for
/// 126 steps no standard gives a law: linear spacing is the usual reading (RCN-225 CV67-94 leaves it open).
[[nodiscard]] double table_position(StepMode mode, int step);

/// Table value that a step uses, linear between entries.
[[nodiscard]] double value_of_step(const DriveSettings& settings, StepMode mode, int step);

}  // namespace lapwright
