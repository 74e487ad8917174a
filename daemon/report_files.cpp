#include "daemon/report_files.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <nlohmann/json.hpp>

#include "daemon/report_text.h"
#include "daemon/tune_record.h"
#include "drivers/descriptor.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void lost(const fs::path& path, int error) {
  throw ReportLost("the report " + path.string() + " can't be written: " + std::strerror(error) +
                   "; check the folder, its permissions and the free space");
}

/// Beside the final name, synced, then renamed: a reader never sees half a report.
void write_whole(const fs::path& path, const std::string& text) {
  const fs::path beside = path.string() + ".new";
  {
    const Descriptor file(::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
    if (file.number() < 0) lost(path, errno);
    std::size_t done = 0;
    while (done < text.size()) {
      const ssize_t count = ::write(file.number(), text.data() + done, text.size() - done);
      if (count < 0 && errno == EINTR) continue;
      if (count < 0) lost(path, errno);
      done += static_cast<std::size_t>(count);
    }
    if (::fsync(file.number()) != 0) lost(path, errno);
  }
  if (::rename(beside.c_str(), path.c_str()) != 0) lost(path, errno);
}

}  // namespace

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

void write_reports(const fs::path& folder, const std::string& railway, const Job& job, const JobResult& result) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) lost(folder, error.value());
  const std::string stem = file_stem(job.record);
  write_whole(folder / (stem + ".json"), record_json(railway, job, result).dump(2) + "\n");
  write_whole(folder / (stem + ".txt"), report_text(railway, job, result));
}

}  // namespace lapwright
