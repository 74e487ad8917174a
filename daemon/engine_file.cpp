#include "daemon/engine_file.h"

#include <spdlog/fmt/fmt.h>

#include <array>
#include <cmath>

#include "daemon/report_files.h"
#include "daemon/store/durable_file.h"
#include "daemon/store/job_story.h"
#include "daemon/stored_response.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

constexpr const char* engine_schema = "lapwright engine";

std::string text_of(const Record& json) { return json.dump(2, ' ', false, Record::error_handler_t::replace) + "\n"; }

Record values_json(const CvValues& cvs) {
  Record json = Record::object();
  for (const auto& [number, value] : cvs) json[fmt::format("CV{}", number)] = value;
  return json;
}

Record told_trait(const std::optional<bool>& trait) { return trait ? Record(*trait) : Record(nullptr); }

std::optional<bool> read_trait(const Record& traits, const char* key) {
  return traits.contains(key) && traits[key].is_boolean() ? std::optional(traits[key].get<bool>()) : std::nullopt;
}

Record kept_speed(const std::optional<double>& speed_mm_s) {
  return speed_mm_s ? Record(std::round(*speed_mm_s * 1000) / 1000) : Record(nullptr);
}

/// Without the decoder's rounding: that is of its drive, and only a tune drives by counts.
constexpr std::array<std::pair<const char*, double ResponseScales::*>, 7> kept_scales = {
    {{"shape", &ResponseScales::shape},
     {"warming", &ResponseScales::warming},
     {"warming_share", &ResponseScales::warming_share},
     {"wander", &ResponseScales::wander},
     {"scatter", &ResponseScales::scatter},
     {"repeatability", &ResponseScales::repeatability},
     {"cell", &ResponseScales::cell}}};

Record scales_json(const ResponseScales& scales) {
  Record json = Record::object();
  for (const auto& [name, scale] : kept_scales) json[name] = scales.*scale;
  return json;
}

std::optional<ResponseScales> read_scales(const Record& json) {
  if (!json.is_object()) return std::nullopt;
  ResponseScales scales;
  for (const auto& [name, scale] : kept_scales) scales.*scale = json.at(name).get<double>();
  return scales;
}

Record work_json(const EngineWork& work) {
  Record json = {{"id", work.id},
                 {"at", work.told.date},
                 {"work", work.told.work},
                 {"outcome", work.told.outcome},
                 {"conditions", work.told.conditions},
                 {"speeds_mm_s", Record::object()}};
  if (work.told.scales) json["unevenness"] = scales_json(*work.told.scales);
  if (work.told.top_current_mA) json["top_current_mA"] = std::round(*work.told.top_current_mA);
  for (const auto& [step, speeds] : work.told.speeds) {
    json["speeds_mm_s"][std::to_string(step)] = {{"forward", kept_speed(speeds.forward_mm_s)},
                                                 {"reverse", kept_speed(speeds.reverse_mm_s)},
                                                 {"proved", speeds.proved}};
  }
  return json;
}

std::optional<double> read_speed(const Record& speeds, const char* direction) {
  if (!speeds.contains(direction) || !speeds[direction].is_number()) return std::nullopt;
  return speeds[direction].get<double>();
}

std::optional<double> number_at(const Record& json, const char* key) {
  return json.contains(key) ? std::optional(json.at(key).get<double>()) : std::nullopt;
}

/// @throws Record::exception, std::invalid_argument
EarlierTune read_earlier(const Record& json) {
  EarlierTune told{json.at("at").get<std::string>(),      json.at("work").get<std::string>(),
                   json.at("outcome").get<std::string>(), {},
                   json.value("conditions", ""),          read_scales(json.value("unevenness", Record())),
                   number_at(json, "top_current_mA")};
  for (const auto& [step, speeds] : json.at("speeds_mm_s").items()) {
    told.speeds[std::stoi(step)] = {read_speed(speeds, "forward"), read_speed(speeds, "reverse"),
                                    speeds.value("proved", false)};
  }
  return told;
}

/// What the work has not written or found out stays as it was known: a restore that proves a table has not written it
/// under this address, and one that finds no engine has written nothing. Unless it is another decoder.
void keep_held(Record& document, const EngineWork& work) {
  const Record identity = document.value("identity", Record::object());
  const bool same = identity.empty() || work.identity.empty() || identity == values_json(work.identity);
  for (const char* key : {"cvs", "traits"}) {
    if (!same || !document.contains(key) || !document[key].is_object()) document[key] = Record::object();
  }
  document["cvs"].update(values_json(work.cvs));
  for (const auto& [key, trait] :
       {std::pair("trims_act", work.traits.trims_act), std::pair("table_scaled", work.traits.table_scaled),
        std::pair("table_enabled", work.traits.table_enabled)}) {
    if (trait || !document["traits"].contains(key)) document["traits"][key] = told_trait(trait);
  }
}

/// The document, checked. @throws FileLost
Record understood(const std::string& text, const std::filesystem::path& path) {
  Record json = Record::parse(text, nullptr, false);
  const bool ours = json.is_object() && json.value("schema", Record()) == engine_schema && json.contains("version") &&
                    json["version"].is_number_integer() && json["version"].get<int>() <= engine_file_version &&
                    json.contains("history") && json["history"].is_array();
  if (ours) return json;
  throw FileLost(path.string() +
                 " can't be understood: it is no JSON document of an engine, or a newer version of this program wrote "
                 "it. Correct it by hand, or move it away and the engine's history begins anew");
}

}  // namespace

EngineWork work_of(const Job& job, const JobResult& result, const std::string& id, const std::string& at) {
  const std::vector<StepResult> steps = by_step(result.tune.cells, job.sheet);
  const std::string sentence = outcome_sentence(result, count(steps));
  const std::string conditions = fmt::format("sheet \"{}\", {}", job.sheet.name, job.speed_defined);
  EngineWork work;
  work.id = id;
  work.told.date = at;
  work.told.work = code(result.work);
  work.told.outcome = sentence;
  work.told.conditions = conditions;
  work.told.scales = result.tune.scales;
  work.told.top_current_mA = result.tune.top_current_mA;
  work.cvs = result.cvs;
  work.owed = result.owed;
  work.traits = result.tune.traits;
  work.identity = result.identity;
  work.before = result.before;
  // Of a tune that went wrong the passes may be wrong, too.
  if (result.tune.end == TuneEnd::complete) work.response = result.tune.response;
  work.response_over = job.speed_defined;
  const auto measured = [](const std::optional<CellResult>& cell) {
    return cell && cell->passes > 0 ? std::optional(cell->speed_mm_s) : std::nullopt;
  };
  for (const StepResult& step : steps) {
    const StepSpeeds speeds{measured(step.forward), measured(step.reverse), step.verdict() == Verdict::proved};
    if (speeds.forward_mm_s || speeds.reverse_mm_s) work.told.speeds[step.step] = speeds;
  }
  return work;
}

EngineFile::EngineFile(Storage& storage, const std::filesystem::path& folder, const EngineRecord& record)
    : storage_(storage),
      path_(folder.empty() ? folder : folder / "engines" / (file_stem(record) + ".json")),
      engine_(title(record)) {}

std::vector<EarlierTune> EngineFile::history() const {
  std::vector<EarlierTune> result;
  const std::optional<std::string> text = path_.empty() ? std::nullopt : storage_.read(path_);
  if (!text) return result;
  const Record document = understood(*text, path_);
  try {
    for (const Record& work : document["history"]) result.push_back(read_earlier(work));
  } catch (const Record::exception& fault) {
    throw FileLost(path_.string() + ": /history/" + std::to_string(result.size()) + " can't be read: " + fault.what());
  } catch (const std::invalid_argument&) {
    throw FileLost(path_.string() + ": /history/" + std::to_string(result.size()) +
                   "/speeds_mm_s has a name that is no step");
  }
  return result;
}

KnownEngine EngineFile::known() const {
  KnownEngine result;
  result.document = path_;
  const std::optional<std::string> text = path_.empty() ? std::nullopt : storage_.read(path_);
  if (!text) return result;
  const Record document = understood(*text, path_);
  for (const auto& [key, values] : {std::pair("identity", &result.identity), std::pair("before", &result.before),
                                    std::pair("cvs", &result.cvs), std::pair("owed", &result.owed)}) {
    try {
      if (document.contains(key)) *values = read_cvs(document[key]);
    } catch (const Record::exception& fault) {
      throw FileLost(path_.string() + ": /" + key + " can't be read: " + fault.what());
    } catch (const std::invalid_argument& fault) {
      throw FileLost(path_.string() + ": /" + key + ": " + fault.what());
    }
  }
  const Record traits = document.value("traits", Record::object());
  result.traits = {read_trait(traits, "trims_act"), read_trait(traits, "table_scaled"),
                   read_trait(traits, "table_enabled")};
  try {
    if (document.contains("response")) {
      result.response = read_response(document["response"]);
      result.response_over = document["response"].at("speed_over").get<std::string>();
    }
  } catch (const Record::exception& fault) {
    throw FileLost(path_.string() + ": /response can't be read: " + fault.what());
  } catch (const std::invalid_argument& fault) {
    throw FileLost(path_.string() + ": /response/passes: " + fault.what());
  }
  for (const EarlierTune& each : history()) {
    if (each.work == code(Work::tune) && !each.speeds.empty()) result.tuned = each;
  }
  return result;
}

Record EngineFile::empty_document() const {
  return {{"schema", engine_schema}, {"version", engine_file_version}, {"engine", engine_}};
}

void EngineFile::keep_before(const CvValues& identity, const CvValues& before) const {
  if (path_.empty()) return;
  Record document = empty_document();
  document["history"] = Record::array();
  if (const std::optional<std::string> text = storage_.read(path_)) document = understood(*text, path_);
  document["identity"] = values_json(identity);
  document["before"] = values_json(before);
  write_durably(storage_, path_, text_of(document));
}

void EngineFile::add(const EngineWork& work) const {
  if (path_.empty()) return;
  Record document = empty_document();
  if (const std::optional<std::string> text = storage_.read(path_)) {
    try {
      document = understood(*text, path_);
    } catch (const FileLost& lost) {
      const std::filesystem::path beside = path_.string() + ".not-taken";
      write_durably(storage_, beside, text_of(work_json(work)));
      throw FileLost(std::string(lost.what()) + ". What this work has found is in " + beside.string());
    }
  }
  Record history = document.contains("history") ? document["history"] : Record::array();
  const auto same = [&](const Record& told) { return told.is_object() && told.value("id", Record()) == work.id; };
  const auto before = std::find_if(history.begin(), history.end(), same);
  if (before != history.end()) history.erase(before);
  history.push_back(work_json(work));
  if (const std::optional<Work> kind = read_work(work.told.work); kind && only_measures(*kind)) {
    document.erase("history");
    document["history"] = std::move(history);
    write_durably(storage_, path_, text_of(document));
    return;
  }
  keep_held(document, work);
  document["owed"] = values_json(work.owed);
  if (!work.identity.empty()) document["identity"] = values_json(work.identity);
  if (!work.before.empty()) document["before"] = values_json(work.before);
  if (!work.response.passes.empty()) {
    document["response"] = response_json(work.response);
    document["response"]["speed_over"] = work.response_over;
  }
  document.erase("history");
  document["history"] = std::move(history);
  write_durably(storage_, path_, text_of(document));
}

}  // namespace lapwright
