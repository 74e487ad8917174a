// Writes the reports of one job, JSON for machines, text and a page for people, and the page of a shift: each complete
// or not there at all.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/pages/drift.h"
#include "daemon/pages/morning_page.h"
#include "daemon/store/storage.h"

namespace lapwright {

/// Makes the folder where it is missing. Earlier reports of the same engine are replaced.
/// @param history  earlier works on the engine, oldest first
/// @param at  date and time for people; empty: not told. @throws FileLost
void write_reports(Storage& storage, const std::filesystem::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result, const std::vector<EarlierTune>& history, const std::string& at);

/// Names of the files that it writes.
[[nodiscard]] std::vector<std::string> report_names(const Job& job, const JobResult& result);

/// No engine's stem has a hyphen, so none is in its way.
inline constexpr const char* morning_page_name = "morning-page.html";
/// Replaces the one of the last shift. @throws FileLost
void write_morning_page(Storage& storage, const std::filesystem::path& folder, const Morning& morning);

}  // namespace lapwright
