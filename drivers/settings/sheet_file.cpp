#include "drivers/settings/sheet_file.h"

#include <nlohmann/json.hpp>

#include "drivers/settings/reader.h"

namespace lapwright::settings {
namespace {

constexpr double fastest = 500;  ///< mph or km/h

Range speed_range() { return {.min = 0.01, .max = fastest, .help = "a scale speed in the sheet's unit"}; }
Range tolerance_range() { return {.min = 0, .max = fastest, .help = "a half width in the sheet's unit"}; }
Range share_range() { return {.min = 0, .max = 0.5, .help = "a share of the speed, 0.02 for 2 %,"}; }

void read_speed(Section section, SheetPoint& point) {
  point.speed = section.number("speed", speed_range());
  point.tolerance = section.maybe_number("tolerance", tolerance_range());
  point.tolerance_share = section.maybe_number("tolerance_share", share_range());
}

/// Points and, for messages, where each stands.
struct PlacedPoints {
  std::vector<SheetPoint> points;
  std::vector<std::pair<Section, std::string>> places;  ///< a section and the key in it
};

/// {"1": 1.0, "28": {"speed": 18.0, …}}, in ascending order of the steps whatever the order in the file.
PlacedPoints read_steps(Section steps, StepMode mode) {
  PlacedPoints out;
  for (const auto& [step, key] : steps.numbered_keys({.min = 1, .max = top_step(mode)})) {
    SheetPoint point{.step = step};
    if (steps.is_object(key)) {
      read_speed(steps.section(key), point);
    } else {
      point.speed = steps.number(key, speed_range());
    }
    out.points.push_back(std::move(point));
    out.places.emplace_back(steps, key);
  }
  return out;
}

PlacedPoints read_notches(Section section, StepMode mode) {
  PlacedPoints out;
  for (Section notch :
       section.sections("notches", {.min = 1, .max = top_step(mode), .help = "the throttle's notches"})) {
    SheetPoint point;
    point.notch = notch.text("notch", {}, "the notch's name in double quotes");
    point.step =
        notch.integer("step", {.min = 1, .max = top_step(mode), .help = "the speed step that the notch sends"});
    read_speed(notch, point);
    out.points.push_back(std::move(point));
    out.places.emplace_back(notch, "speed");
  }
  return out;
}

PlacedPoints read_points(Section section, TargetSheet& sheet) {
  const bool by28 = section.has("steps28");
  const bool by126 = section.has("steps126");
  const bool by_notch = section.has("notches");
  if (by28 + by126 + by_notch != 1) {
    section.complain("", "a sheet has speeds of one kind; give just one of \"steps28\", \"steps126\" or \"notches\"");
    for (const std::string_view key : {"steps28", "steps126", "notches", "throttle_steps"}) section.ignore(key);
    return {};
  }
  sheet.mode = by126 ? StepMode::steps126 : StepMode::steps28;
  if (!by_notch) return read_steps(section.section(by126 ? "steps126" : "steps28"), sheet.mode);
  const int steps = section.integer("throttle_steps", {.min = 28, .max = 126, .help = "28 or 126"}, 28);
  if (steps != 28 && steps != 126) {
    section.complain("throttle_steps", std::to_string(steps) + " is no step mode; give 28 or 126");
  }
  if (steps == 126) sheet.mode = StepMode::steps126;
  return read_notches(section, sheet.mode);
}

nlohmann::ordered_json as_json(const SheetPoint& point) {
  nlohmann::ordered_json out;
  if (!point.notch.empty()) out["notch"] = point.notch;
  if (!point.notch.empty()) out["step"] = point.step;
  out["speed"] = point.speed;
  if (point.tolerance) out["tolerance"] = *point.tolerance;
  if (point.tolerance_share) out["tolerance_share"] = *point.tolerance_share;
  return out;
}

}  // namespace

TargetSheet read_sheet(Section section) {
  const std::size_t mistakes = section.mistakes();
  TargetSheet sheet;
  sheet.name = section.text("name", {}, "the sheet's name, which reports quote");
  sheet.unit = section.word<SpeedUnit>("unit", {{"mph", SpeedUnit::mph}, {"km/h", SpeedUnit::kmh}});
  sheet.fill = section.word<Fill>("fill", {{"linear", Fill::linear}, {"smooth", Fill::smooth}}, Fill::linear);
  sheet.prove = section.word<ProveAt>("prove", {{"entries", ProveAt::entries}, {"points", ProveAt::points}},
                                      section.has("notches") ? ProveAt::points : ProveAt::entries);
  sheet.over =
      section.word<SpeedOver>("speed_over", {{"trap", SpeedOver::trap}, {"lap", SpeedOver::lap}}, SpeedOver::trap);
  sheet.tolerance = section.number("tolerance", tolerance_range(), 0.1);
  sheet.tolerance_share = section.number("tolerance_share", share_range(), 0.02);
  PlacedPoints placed = read_points(section, sheet);
  sheet.points = std::move(placed.points);
  if (section.mistakes() > mistakes) return sheet;  // checks across placeholders would only confuse
  for (const SheetProblem& problem : find_problems(sheet)) {
    if (problem.point < 0) {
      section.complain("", problem.text);
    } else {
      auto& [at, key] = placed.places[static_cast<std::size_t>(problem.point)];
      at.complain(key, problem.text);
    }
  }
  return sheet;
}

TargetSheet parse_sheet(std::string_view text, const std::string& name) {
  Document document = parse(text, name);
  TargetSheet sheet = read_sheet(document.root());
  document.finish();
  return sheet;
}

TargetSheet load_sheet(const std::filesystem::path& path) {
  Document document = load_file(path);
  TargetSheet sheet = read_sheet(document.root());
  document.finish();
  return sheet;
}

std::string write_sheet(const TargetSheet& sheet) {
  nlohmann::ordered_json out;
  out["name"] = sheet.name;
  out["unit"] = unit_name(sheet.unit);
  out["tolerance"] = sheet.tolerance;
  out["tolerance_share"] = sheet.tolerance_share;
  out["fill"] = sheet.fill == Fill::linear ? "linear" : "smooth";
  out["prove"] = sheet.prove == ProveAt::entries ? "entries" : "points";
  out["speed_over"] = sheet.over == SpeedOver::trap ? "trap" : "lap";
  const bool by_notch = !sheet.points.empty() && !sheet.points.front().notch.empty();
  const std::string steps = std::to_string(top_step(sheet.mode));
  if (by_notch) out["throttle_steps"] = top_step(sheet.mode);
  for (const SheetPoint& point : sheet.points) {
    const nlohmann::ordered_json value = as_json(point);
    if (by_notch) {
      out["notches"].push_back(value);
    } else {
      const bool plain = !point.tolerance && !point.tolerance_share;
      out["steps" + steps][std::to_string(point.step)] = plain ? nlohmann::ordered_json(point.speed) : value;
    }
  }
  return out.dump(2) + "\n";
}

}  // namespace lapwright::settings
