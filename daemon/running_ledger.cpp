#include "daemon/running_ledger.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/store/durable_file.h"

namespace lapwright {
namespace {

using Json = nlohmann::ordered_json;
constexpr const char* ledger_schema = "lapwright running time";
constexpr int ledger_version = 1;
constexpr std::size_t days_kept = 400;

[[noreturn]] void refuse(const std::filesystem::path& path) {
  throw FileLost("the running times in " + path.string() +
                 " can't be understood: they have to be what this program wrote. Correct the file by hand, or move it "
                 "away, and every cap on running time begins anew");
}

}  // namespace

RunningLedger::RunningLedger(Storage& storage, std::filesystem::path folder)
    : storage_(storage), folder_(std::move(folder)) {
  if (folder_.empty()) return;
  const std::optional<std::string> written = storage_.read(path());
  if (!written) return;
  const Json json = Json::parse(*written, nullptr, false);
  if (!json.is_object() || json.value("schema", Json()) != ledger_schema ||
      json.value("version", Json()) != ledger_version || !json.contains("days_s") || !json["days_s"].is_object()) {
    refuse(path());
  }
  for (const auto& [date, engines] : json["days_s"].items()) {
    if (!engines.is_object()) refuse(path());
    for (const auto& [engine, running_s] : engines.items()) {
      if (!running_s.is_number()) refuse(path());
      days_[date][engine] = running_s.get<double>();
    }
  }
}

double RunningLedger::ran_s(const std::string& date, const std::string& engine) const {
  const auto day = days_.find(date);
  if (day == days_.end()) return 0;
  const auto found = day->second.find(engine);
  return found == day->second.end() ? 0 : found->second;
}

void RunningLedger::add(const std::string& date, const std::string& engine, double running_s) {
  days_[date][engine] += running_s;
  while (days_.size() > days_kept) days_.erase(days_.begin());
  if (folder_.empty()) return;
  Json json = {{"schema", ledger_schema}, {"version", ledger_version}, {"days_s", Json::object()}};
  for (const auto& [day, engines] : days_) {
    for (const auto& [name, seconds] : engines) json["days_s"][day][name] = std::round(seconds * 10) / 10;
  }
  write_durably(storage_, path(), json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n");
}

}  // namespace lapwright
