// The best that the decoder can do for the sheet: table, trims and CV5 searched on the true curve.
#pragma once

#include <array>

#include "tests/bench/true_curve.h"
#include "tuning/tune.h"

namespace lapwright::bench {

/// How a decoder makes drive levels, written out once more so that the search is fast; checked against the decoder.
struct LevelLaw {
  bool table_scaled = false;
  bool trims_act = true;
  int levels = 1023;
  bool cut_off = false;
  /// Drive level of a table value under the settings' trims, CV2 and CV5.
  [[nodiscard]] int level(const DriveSettings& settings, int value, Direction direction) const;
};

/// Larger error of both directions in tolerances, for one table value.
[[nodiscard]] double error_share(const LevelLaw& law, const TrueCurve& curve, const DriveSettings& settings,
                                 const StepAim& aim, int value);

struct BestValue {
  int value = 0;
  double error = 0;  ///< in tolerances
};
/// The best table value under given trims, CV2 and CV5.
[[nodiscard]] BestValue best_value(const LevelLaw& law, const TrueCurve& curve, const DriveSettings& settings,
                                   const StepAim& aim);

struct BestSettings {
  DriveSettings settings;
  std::array<double, cv::table_entries> error = {};  ///< in tolerances, by the sampled curve
  int attainable = 0;                                ///< steps within tolerance in both directions
  double sum = 0;                                    ///< of the fourth powers of the errors, each at most 3
};

/// Most attainable steps first, then the smallest sum of fourth powers. @param aims  of 28 steps
[[nodiscard]] BestSettings search_settings(const LevelLaw& law, const TrueCurve& curve,
                                           const std::vector<StepAim>& aims);

}  // namespace lapwright::bench
