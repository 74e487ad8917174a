#include "daemon/report_files.h"

#include <spdlog/fmt/fmt.h>

#include <nlohmann/json.hpp>

#include "daemon/pages/engine_page.h"
#include "daemon/report_text.h"
#include "daemon/store/durable_file.h"
#include "daemon/tune_record.h"

namespace lapwright {
namespace fs = std::filesystem;

void write_reports(Storage& storage, const fs::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result, const std::vector<EarlierTune>& history, const std::string& at) {
  if (result.work != Work::tune) {  // the engine's page goes on showing its latest tune
    const std::string beside = fmt::format("{}-{}.txt", file_stem(job.record), code(result.work));
    write_durably(storage, folder / beside, report_text(railway, job, result));
    return;
  }
  const std::string stem = file_stem(job.record);
  write_durably(storage, folder / (stem + ".json"),
                record_json(railway, job, result).dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
  write_durably(storage, folder / (stem + ".txt"), report_text(railway, job, result));
  write_durably(storage, folder / (stem + ".html"), engine_page(railway, job, result, history, at));
}

void write_morning_page(Storage& storage, const fs::path& folder, const Morning& morning) {
  write_durably(storage, folder / morning_page_name, morning_page(morning));
}

}  // namespace lapwright
