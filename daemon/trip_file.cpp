#include "daemon/trip_file.h"

#include <nlohmann/json.hpp>

#include "daemon/store/durable_file.h"

namespace lapwright {
namespace {

using Json = nlohmann::ordered_json;
constexpr const char* trip_schema = "lapwright trip";
constexpr int trip_version = 1;

Trip unreadable(const std::filesystem::path& path) {
  Trip trip;
  trip.code = code(StopReason::own_fault);
  trip.sentence = "the trip that " + path.string() + " tells of can't be read. Look at the rig, then clear it";
  return trip;
}

std::string text(const Json& object, const char* key) {
  return object.contains(key) && object[key].is_string() ? object[key].get<std::string>() : "";
}

}  // namespace

std::optional<Trip> TripFile::read() const {
  if (kept_ || folder_.empty()) return kept_;
  std::optional<std::string> written;
  try {
    written = storage_.read(path());
  } catch (const FileLost&) {
    return unreadable(path());
  }
  if (!written) return std::nullopt;
  const Json json = Json::parse(*written, nullptr, false);
  const bool ours = json.is_object() && text(json, "schema") == trip_schema && json.contains("version") &&
                    json["version"] == trip_version && !text(json, "sentence").empty();
  if (!ours) return unreadable(path());
  Trip trip{text(json, "code"), text(json, "sentence"), text(json, "engine"), text(json, "at"), {}, 0, false};
  if (json.contains("tries") && json["tries"].is_number_integer()) trip.tries = json["tries"].get<int>();
  trip.again = json.contains("again") && json["again"] == true;
  if (json.contains("evidence") && json["evidence"].is_object()) {
    for (const auto& [name, value] : json["evidence"].items()) {
      if (value.is_string()) trip.evidence.emplace_back(name, value.get<std::string>());
    }
  }
  return trip;
}

void TripFile::write(const Trip& trip) {
  kept_ = trip;
  if (folder_.empty()) return;
  Json json = {{"schema", trip_schema}, {"version", trip_version},   {"code", trip.code},   {"at", trip.at},
               {"engine", trip.engine}, {"sentence", trip.sentence}, {"tries", trip.tries}, {"again", trip.again}};
  json["evidence"] = Json::object();
  for (const auto& [name, value] : trip.evidence) json["evidence"][name] = value;
  write_durably(storage_, path(), json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n");
}

void TripFile::clear() {
  if (!folder_.empty()) remove_durably(storage_, path());
  kept_.reset();
}

std::string trip_sentence(const Trip& trip) {
  const std::string engine = trip.engine.empty() ? "" : trip.engine + ": ";
  const std::string at = trip.at.empty() ? "" : " (" + trip.at + ")";
  return engine + trip.sentence + at;
}

}  // namespace lapwright
