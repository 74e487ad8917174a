#include "daemon/tune_record.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/step_results.h"
#include "daemon/wording.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

using Json = nlohmann::ordered_json;

Json rounded(double value, double per_unit) {
  if (!std::isfinite(value)) return nullptr;
  return std::round(value * per_unit) / per_unit + 0.0;  // no negative zero
}

struct InSheetUnit {
  SpeedUnit unit;
  double ratio;
  [[nodiscard]] Json operator()(double speed_mm_s) const { return rounded(scale_speed(speed_mm_s, unit, ratio), 1000); }
};

Json trait(const std::optional<bool>& value) { return value ? Json(*value) : Json(nullptr); }

Json cell_json(const std::optional<CellResult>& cell, const InSheetUnit& in_unit) {
  Json json;
  const bool measured = cell && cell->passes > 0;
  json["speed"] = measured ? in_unit(cell->speed_mm_s) : Json(nullptr);
  json["half_width"] = measured ? in_unit(cell->half_width_mm_s) : Json(nullptr);
  json["passes"] = cell ? cell->passes : 0;
  json["verdict"] = code(cell ? cell->verdict : Verdict::not_measured);
  if (cell && cell->shortfall != Shortfall::none) json["reason"] = code(cell->shortfall);
  return json;
}

Json steps_json(const std::vector<StepResult>& steps, const InSheetUnit& in_unit) {
  Json json = Json::array();
  for (const StepResult& step : steps) {
    Json entry;
    entry["step"] = step.step;
    if (!step.notch.empty()) entry["notch"] = step.notch;
    entry["target"] = in_unit(step.target_mm_s);
    entry["tolerance"] = in_unit(step.tolerance_mm_s);
    entry["verdict"] = code(step.verdict());
    entry["forward"] = cell_json(step.forward, in_unit);
    entry["reverse"] = cell_json(step.reverse, in_unit);
    json.push_back(std::move(entry));
  }
  return json;
}

Json cvs_json(const std::map<int, std::uint8_t>& cvs) {
  Json json = Json::object();
  for (const auto& [number, value] : cvs) json["CV" + std::to_string(number)] = value;
  return json;
}

Json engine_json(const EngineRecord& record) {
  Json json;
  json["name"] = record.name;
  json["road_number"] = record.road_number;
  json["scale"] = record.scale.name;
  json["ratio"] = record.scale.ratio;
  json["address"][record.long_address ? "long" : "short"] = record.address;
  return json;
}

Json outcome_json(const JobResult& result, const VerdictCounts& counts) {
  Json json;
  json["end"] = result.broken_off ? "broken_off" : code(result.tune.end);
  if (result.stop) json["stop"] = {{"code", code(result.stop->reason)}, {"sentence", result.stop->sentence}};
  json["sentence"] = outcome_sentence(result, counts);
  json["needs_person"] = needs_person(result);
  json["steps"] = {
      {"all", counts.steps},         {"proved", counts.proved}, {"best_attainable", counts.best_attainable},
      {"marginal", counts.marginal}, {"failed", counts.failed}, {"not_measured", counts.not_measured}};
  return json;
}

}  // namespace

Json record_json(const std::string& railway, const Job& job, const JobResult& result) {
  const InSheetUnit in_unit{job.sheet.unit, job.record.scale.ratio};
  const std::vector<StepResult> steps = by_step(result.tune.cells, job.sheet);
  Json json;
  json["schema"] = "lapwright tune record";
  json["version"] = record_version;
  json["railway"] = railway;
  json["engine"] = engine_json(job.record);
  json["sheet"] = {{"name", job.sheet.name},
                   {"unit", unit_name(job.sheet.unit)},
                   {"throttle_steps", top_step(job.sheet.mode)},
                   {"confidence", job.order.confidence},
                   {"patience", job.order.patience},
                   {"speed_defined", job.speed_defined}};
  json["outcome"] = outcome_json(result, count(steps));
  json["work"] = {{"track_s", rounded(result.tune.track_s, 10)},
                  {"passes", result.tune.passes},
                  {"rejected", result.tune.rejected},
                  {"cv_writes", result.tune.writes}};
  json["traits"] = {{"trims_act", trait(result.tune.traits.trims_act)},
                    {"table_scaled", trait(result.tune.traits.table_scaled)},
                    {"table_enabled", trait(result.tune.traits.table_enabled)}};
  json["starts_from_rest"] = {{"forward", trait(result.tune.starts[index(Direction::forward)])},
                              {"reverse", trait(result.tune.starts[index(Direction::reverse)])}};
  json["cvs"] = cvs_json(result.cvs);
  json["cv29_note"] = "bit 4 (value 16) must be set: the speed table is in use";
  json["owed"] = cvs_json(result.owed);
  json["steps"] = steps_json(steps, in_unit);
  json["remarks"] = result.tune.remarks;
  json["troubles"] = result.troubles;
  json["protection_missing"] = result.unprotected;
  if (result.seed) json["simulated"] = {{"seed", *result.seed}};
  return json;
}

}  // namespace lapwright
