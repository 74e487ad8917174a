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
  read_tired(json.value("tired", Json::object()));
  if (json.contains("shift")) read_shift(json["shift"]);  // not of a version that did not keep it
}

void RunningLedger::read_tired(const nlohmann::ordered_json& tired) {
  for (const auto& [engine, told] : tired.items()) {
    const bool known = told.is_object() && told.contains("ran_s") && told["ran_s"].is_number() && told.contains("at") &&
                       told["at"].is_number_integer();
    if (!known) refuse(path());
    tired_[engine] = Tiredness{told["ran_s"].get<double>(), told["at"].get<std::time_t>()};
  }
}

void RunningLedger::read_shift(const nlohmann::ordered_json& shift) {
  const bool known = shift.is_object() && shift.contains("id") && shift["id"].is_number_integer() &&
                     shift.contains("ran_s") && shift["ran_s"].is_number();
  if (!known) refuse(path());
  shift_ = shift["id"].get<std::int64_t>();
  shift_ran_s_ = shift["ran_s"].get<double>();
}

void RunningLedger::take_up_shift(std::int64_t shift) {
  if (shift == shift_) return;
  shift_ = shift;
  shift_ran_s_ = 0;
}

double RunningLedger::ran_s(const std::string& date, const std::string& engine) const {
  const auto day = days_.find(date);
  if (day == days_.end()) return 0;
  const auto found = day->second.find(engine);
  return found == day->second.end() ? 0 : found->second;
}

Tiredness RunningLedger::tiredness(const std::string& engine) const {
  const auto found = tired_.find(engine);
  return found == tired_.end() ? Tiredness{} : found->second;
}

void RunningLedger::add(const std::string& date, const std::string& engine, double running_s) {
  days_[date][engine] += running_s;
  shift_ran_s_ += running_s;
  while (days_.size() > days_kept) days_.erase(days_.begin());
  if (folder_.empty()) return;
  Json json = {{"schema", ledger_schema}, {"version", ledger_version}, {"days_s", Json::object()}};
  json["shift"] = {{"id", shift_}, {"ran_s", std::round(shift_ran_s_ * 10) / 10}};
  json["tired"] = Json::object();
  for (const auto& [name, tired] : tired_) {
    if (tired.tired_s > 0) json["tired"][name] = {{"ran_s", std::round(tired.tired_s * 10) / 10}, {"at", tired.at}};
  }
  for (const auto& [day, engines] : days_) {
    for (const auto& [name, seconds] : engines) json["days_s"][day][name] = std::round(seconds * 10) / 10;
  }
  write_durably(storage_, path(), json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n");
}

}  // namespace lapwright
