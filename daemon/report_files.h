// Writes the reports of one job: JSON for machines, text for people, each complete or not there at all.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/store/storage.h"

namespace lapwright {

/// "bracken_14": the engine's name and road number in letters that every file system takes.
[[nodiscard]] std::string file_stem(const EngineRecord& record);

/// Makes the folder where it is missing. Earlier reports of the same engine are replaced. @throws FileLost
void write_reports(Storage& storage, const std::filesystem::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result);

}  // namespace lapwright
