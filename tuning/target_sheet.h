// Target sheets: the wanted scale speed by speed step or throttle notch, with tolerance, shared by many engines.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "tuning/scale.h"
#include "tuning/throttle.h"

namespace lapwright {

/// One wanted speed.
struct SheetPoint {
  int step = 0;                                ///< 1 … top_step(mode)
  double speed = 0;                            ///< in the sheet's unit
  std::string notch = {};                      ///< the throttle's name for the step, empty where there is none
  std::optional<double> tolerance = {};        ///< in the sheet's unit; the sheet's own where empty
  std::optional<double> tolerance_share = {};  ///< of the speed, 0.02 for 2 %; the sheet's own where empty
};

/// How the steps between two points are filled: straight, or by a monotone curve (tuning/monotone.h).
enum class Fill : std::uint8_t { linear, smooth };
/// Which steps are proved: those that stand on one of the 28 table entries, and the points; or the points alone.
enum class ProveAt : std::uint8_t { entries, points };
/// Where the speed is defined: over the trap, or as the mean of a whole lap (they differ by curves and grades).
enum class SpeedOver : std::uint8_t { trap, lap };

struct TargetSheet {
  std::string name;
  SpeedUnit unit = SpeedUnit::mph;
  StepMode mode = StepMode::steps28;
  Fill fill = Fill::linear;
  ProveAt prove = ProveAt::entries;
  SpeedOver over = SpeedOver::trap;
  double tolerance = 0.1;          ///< in the sheet's unit
  double tolerance_share = 0.02;   ///< of the speed; the wider of the two counts
  std::vector<SheetPoint> points;  ///< by ascending step; speeds may stay level but not fall
};

/// What is wanted of one step.
struct StepTarget {
  int step = 0;
  double speed = 0;      ///< in the sheet's unit
  double tolerance = 0;  ///< half width, in the sheet's unit: max(absolute, share of the speed)
  bool prove = false;    ///< measured to a verdict; other steps are only set
  std::string notch = {};
};

/// A mistake in a sheet; `point` is an index into its points, or -1 where the sheet as a whole is meant.
struct SheetProblem {
  int point = -1;
  std::string text;  ///< what is wrong and what to do
};

/// Everything wrong with a sheet; empty for a good one.
[[nodiscard]] std::vector<SheetProblem> find_problems(const TargetSheet& sheet);
/// The same as sentences that name the sheet and the point.
[[nodiscard]] std::vector<std::string> problems(const TargetSheet& sheet);

/// All steps 1 … top_step(mode). Below the first point the speed rises from rest at step 0, above the last it stays
/// level, since nothing faster was asked for. @throws std::invalid_argument  with all problems of a bad sheet
[[nodiscard]] std::vector<StepTarget> expand(const TargetSheet& sheet);

/// The 126-mode step nearest to table entry 1 … 28: 1 + (entry - 1)·125/27, rounded. No standard fixes how decoders
/// interpolate between entries; at these steps it matters least.
[[nodiscard]] int step_of_entry(int entry, StepMode mode);

}  // namespace lapwright
