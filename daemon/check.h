// A check: a spread of an engine's steps measured without writing, and what they say beside its latest tune.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/order.h"
#include "daemon/pages/drift.h"
#include "tuning/cv_ledger.h"
#include "tuning/inspection.h"

namespace lapwright {

/// What to measure. @param ledger  may know the momentum; where nobody does, a slow engine is assumed
/// @param all  every step of the sheet that is to be proved; otherwise four of them, from the lowest to the highest
[[nodiscard]] InspectionOrder check_order(const Job& job, const CvLedger& ledger, bool all);
/// What is told of the steps that a shuttle has no room for; empty: it has, for all of them
[[nodiscard]] std::string left_out_for_room(const Job& job, const InspectionOrder& order);
/// What a restore has to prove: one step of each quarter of the sheet, without momentum. Of what the tune had proved
/// both ways, as far as that gives four: what it had not can't be held against the decoder, only whether it runs as
/// then. In each quarter the step whose proof will be the shortest: a fast one that the tune had left well within
/// tolerance.
[[nodiscard]] InspectionOrder proof_order(const Job& job, const std::optional<EarlierTune>& tuned);

enum class Condition : std::uint8_t {
  as_tuned,     ///< every step is in tolerance, or as far out as its tune left it
  not_certain,  ///< some steps can't be told
  drifted,      ///< steps are out of tolerance: tune it anew
  worn,         ///< mechanical trouble is suspected: directions, scatter or current have grown apart from the tune's
};

[[nodiscard]] std::string_view word(Condition condition);  ///< "as tuned", for tables

struct CheckFinding {
  Condition condition = Condition::as_tuned;
  std::string sentence;
};

/// @param tuned  the latest tune, if one is known
[[nodiscard]] CheckFinding judge_check(const TuneResult& now, const std::optional<EarlierTune>& tuned);

}  // namespace lapwright
