// What every report of a job says beside its tables, as plain sentences: text and pages say the same.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/step_results.h"

namespace lapwright {

/// For every page, whatever protection there was.
inline constexpr std::string_view no_emergency_stop =
    "Lapwright is no emergency stop by any standard: keep a switch in the supply within reach.";

/// "HO 1:87.1, short address 7".
[[nodiscard]] std::string identity_line(const EngineRecord& record);
/// Sheet, where the speed is defined, the work, the decoder: names and what is said of each.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> fact_lines(const Job& job, const JobResult& result);
/// Why steps are short of a proof, each reason once with its steps.
[[nodiscard]] std::vector<std::string> reason_lines(const std::vector<StepResult>& steps);
/// CVs to be written by hand.
[[nodiscard]] std::vector<std::string> debt_lines(const JobResult& result);
/// What a person has to do before this engine, or the next one, can run; empty where the outcome says it all.
[[nodiscard]] std::vector<std::string> to_do_lines(const JobResult& result);
/// Directions in which the lowest step does not start the engine.
[[nodiscard]] std::vector<std::string> start_lines(const JobResult& result);
[[nodiscard]] std::vector<std::string> trouble_lines(const JobResult& result);
/// What was noticed on the way, and the record's own notes.
[[nodiscard]] std::vector<std::string> note_lines(const Job& job, const JobResult& result);
/// What ± stands for, and what the table needs.
[[nodiscard]] std::vector<std::string> reading_lines(const Job& job);
[[nodiscard]] std::vector<std::string> missing_lines(const JobResult& result);    ///< protection
[[nodiscard]] std::vector<std::string> simulated_lines(const JobResult& result);  ///< that no engine has moved

}  // namespace lapwright
