#include "daemon/report_files.h"

#include <spdlog/fmt/fmt.h>

#include <nlohmann/json.hpp>

#include "daemon/pages/engine_page.h"
#include "daemon/report_text.h"
#include "daemon/store/durable_file.h"
#include "daemon/tune_record.h"

namespace lapwright {
namespace fs = std::filesystem;

std::vector<std::string> report_names(const Job& job, const JobResult& result) {
  const std::string stem = file_stem(job.record);
  // The engine's page goes on showing its latest tune.
  if (result.work != Work::tune) return {fmt::format("{}-{}.txt", stem, code(result.work))};
  return {stem + ".json", stem + ".txt", stem + ".html"};
}

void write_reports(Storage& storage, const fs::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result, const std::vector<EarlierTune>& history, const std::string& at) {
  const std::vector<std::string> names = report_names(job, result);
  const auto write = [&](const std::string& text, const std::string& ending) {
    for (const std::string& name : names) {
      if (name.ends_with(ending)) write_durably(storage, folder / name, text);
    }
  };
  const auto as_text = nlohmann::json::error_handler_t::replace;
  if (names.size() > 1) write(record_json(railway, job, result).dump(2, ' ', false, as_text) + "\n", ".json");
  write(report_text(railway, job, result), ".txt");
  if (names.size() > 1) write(engine_page(railway, job, result, history, at), ".html");
}

void write_morning_page(Storage& storage, const fs::path& folder, const Morning& morning) {
  write_durably(storage, folder / morning_page_name, morning_page(morning));
}

}  // namespace lapwright
