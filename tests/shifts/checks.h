// What has to hold after any tune that went to its end, whatever the track.
#pragma once

#include <optional>

#include "tests/shifts/night.h"

namespace lapwright::shifts {

/// Issue 2: no regulated step that is called proved lies beyond this share of its tolerance.
inline constexpr double far_error = 1.25;

/// Verdicts against the truth; over many nights `false_accepts / proved` has to stay below a share.
struct Tally {
  int proved = 0;
  int best_attainable = 0;
  int marginal = 0;
  int failed = 0;
  int false_accepts = 0;      ///< proved, and truly out of tolerance
  int attainable_missed = 0;  ///< not proved, though some table value serves both directions well (28 steps)
  double worst_error = 0;     ///< of a proved cell, as a share of its tolerance
  Tally& operator+=(const Tally& other);
};

[[nodiscard]] Tally tally(Night& night);

/// A table value more than one away from the one in the table and clearly better for the cell, if there is any.
[[nodiscard]] std::optional<int> clearly_better(Night& night, const CellResult& cell);

/// The table never falls and is in the decoder; trims too. After `settle` the momentum CVs are as they were at first.
void check_left_in_order(Night& night);
/// Momentum and what else was lent (CV3, 4, 19, 23, 24, 65) is as it was found.
void check_lent_put_back(Night& night);

}  // namespace lapwright::shifts
