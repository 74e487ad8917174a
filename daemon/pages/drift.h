// How an engine's speeds have changed since an earlier tuning, step by step and in one sentence.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/step_results.h"
#include "tuning/scale.h"

namespace lapwright {

struct StepSpeeds {
  std::optional<double> forward_mm_s;
  std::optional<double> reverse_mm_s;
  bool proved = false;  ///< both ways
};

/// One line of an engine's history.
struct EarlierTune {
  std::string date;     ///< as people are to read it
  std::string work;     ///< "tune", "check" or "restore"
  std::string outcome;  ///< a sentence
  std::map<int, StepSpeeds> speeds;
  std::string conditions;                     ///< track voltage, where the speed was defined, … for people
  std::optional<ResponseScales> scales = {};  ///< how unevenly it ran
  std::optional<double> top_current_mA = {};  ///< most at the end of a pass
};

struct StepDrift {
  int step = 0;
  Direction direction = Direction::forward;
  double then_mm_s = 0;
  double now_mm_s = 0;
  double tolerance_mm_s = 0;
  [[nodiscard]] double change_mm_s() const { return now_mm_s - then_mm_s; }
  [[nodiscard]] bool beyond_tolerance() const;
};

/// What later speeds are compared with: the last tune that measured any, else the last work of another kind that did.
/// @param history  oldest first @returns a place in it
[[nodiscard]] const EarlierTune* last_measured(const std::vector<EarlierTune>& history);

/// Of steps and directions that were measured both times, by step, forward first.
[[nodiscard]] std::vector<StepDrift> drift_since(const EarlierTune& earlier, const std::vector<StepResult>& now);

/// "On average 1.2 % faster; the largest change is +0.21 smph (step 12, reverse); 2 of 56 readings have changed by more
/// than their tolerance." Steps are read in one direction each.
[[nodiscard]] std::string drift_sentence(const std::vector<StepDrift>& drifts, SpeedUnit unit, double ratio);

}  // namespace lapwright
