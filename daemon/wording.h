// The words of reports and progress: verdicts, reasons, ends, times and speeds, the same everywhere.
#pragma once

#include <string>
#include <string_view>

#include "daemon/engine_record.h"
#include "daemon/job_result.h"
#include "daemon/step_results.h"

namespace lapwright {

[[nodiscard]] std::string_view word(Verdict verdict);          ///< "best attainable"
[[nodiscard]] std::string_view code(Verdict verdict);          ///< "best_attainable", for records
[[nodiscard]] std::string_view code(Shortfall shortfall);      ///< "resolution"; empty for none
[[nodiscard]] std::string_view sentence(Shortfall shortfall);  ///< why a step is not proved, for people
[[nodiscard]] std::string_view code(TuneEnd end);

/// What came of the job, in one sentence or two.
[[nodiscard]] std::string outcome_sentence(const JobResult& result, const VerdictCounts& counts);
/// The same in at most 22 letters, for tables.
[[nodiscard]] std::string outcome_word(const JobResult& result, const VerdictCounts& counts);

/// "smph" or "skm/h": scale miles or kilometres an hour.
[[nodiscard]] std::string_view scale_unit(SpeedUnit unit);
/// "1 h 04 min", "21 min 34 s", "48 s".
[[nodiscard]] std::string duration_text(double time_s);
/// "yes", "no" or "not known".
[[nodiscard]] std::string_view known_word(const std::optional<bool>& trait);

}  // namespace lapwright
