// The machine's side of a report: one JSON document for each job, from which an engine can be put back.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

inline constexpr int record_version = 1;  ///< of the schema; raised when a reader has to know

/// Speeds in the sheet's unit, rounded to a thousandth, times to a tenth of a second: the same job gives the same
/// bytes.
/// @param railway  its name
[[nodiscard]] nlohmann::ordered_json record_json(const std::string& railway, const Job& job, const JobResult& result);

}  // namespace lapwright
