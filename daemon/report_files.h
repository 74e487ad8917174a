// Writes the reports of one job, JSON for machines, text and a page for people, and the page of a shift: each complete
// or not there at all.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/pages/morning_page.h"
#include "daemon/store/storage.h"

namespace lapwright {

/// "bracken_14": the engine's name and road number in letters that every file system takes.
[[nodiscard]] std::string file_stem(const EngineRecord& record);

/// Makes the folder where it is missing. Earlier reports of the same engine are replaced.
/// @param at  date and time for people; empty: not told. @throws FileLost
void write_reports(Storage& storage, const std::filesystem::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result, const std::string& at);

/// No engine's stem has a hyphen, so none is in its way.
inline constexpr const char* morning_page_name = "morning-page.html";
/// Replaces the one of the last shift. @throws FileLost
void write_morning_page(Storage& storage, const std::filesystem::path& folder, const Morning& morning);

}  // namespace lapwright
