// The target and the measured curve of one engine as an SVG drawing: speeds above, how far off target below.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tuning/verdict.h"

namespace lapwright {

/// All speeds in the sheet's unit.
struct ChartReading {
  double speed = 0;
  double half_width = 0;  ///< of its interval; no bar is drawn where it is not finite
};

struct ChartPoint {
  int step = 0;
  std::string notch;  ///< the throttle's name for the step, or empty
  double target = 0;
  double tolerance = 0;
  std::optional<ChartReading> forward;
  std::optional<ChartReading> reverse;
  Verdict verdict = Verdict::not_measured;
};

struct SpeedChart {
  std::string title;
  std::string unit;  ///< "smph"
  int top_step = 28;
  std::vector<ChartPoint> points;  ///< by rising step
};

/// A whole <svg> element that needs nothing from outside and follows light, dark and print by itself. Forward and
/// reverse differ by shape and dash, so that a grey print tells them apart. Empty where there are no points.
///
/// Groups of class "forward" and "reverse" hold one reading each, with its step in data-step and its panel, "speed" or
/// "error", in data-panel; a reading beyond the lower panel is drawn at its edge, as an arrow.
[[nodiscard]] std::string speed_chart(const SpeedChart& chart);

}  // namespace lapwright
