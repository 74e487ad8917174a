#include "daemon/report_files.h"

#include <nlohmann/json.hpp>

#include "daemon/pages/engine_page.h"
#include "daemon/report_text.h"
#include "daemon/store/durable_file.h"
#include "daemon/tune_record.h"

namespace lapwright {
namespace fs = std::filesystem;

std::string file_stem(const EngineRecord& record) {
  std::string stem;
  for (const char letter : record.name + "_" + record.road_number) {
    const bool upper = letter >= 'A' && letter <= 'Z';
    const bool plain = (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
    if (upper || plain) {
      stem += static_cast<char>(upper ? letter - 'A' + 'a' : letter);
    } else if (!stem.empty() && stem.back() != '_') {
      stem += '_';
    }
  }
  while (!stem.empty() && stem.back() == '_') stem.pop_back();
  return stem.empty() ? "engine_" + std::to_string(record.address) : stem;
}

void write_reports(Storage& storage, const fs::path& folder, const std::string& railway, const Job& job,
                   const JobResult& result, const std::string& at) {
  const std::string stem = file_stem(job.record);
  write_durably(storage, folder / (stem + ".json"), record_json(railway, job, result).dump(2) + "\n");
  write_durably(storage, folder / (stem + ".txt"), report_text(railway, job, result));
  write_durably(storage, folder / (stem + ".html"), engine_page(railway, job, result, {}, at));
}

void write_morning_page(Storage& storage, const fs::path& folder, const Morning& morning) {
  write_durably(storage, folder / morning_page_name, morning_page(morning));
}

}  // namespace lapwright
