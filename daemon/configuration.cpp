#include "daemon/configuration.h"

#include <cstdlib>
#include <set>

#include "daemon/limits_setup.h"
#include "daemon/load_into.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway_file.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
using settings::IntRange;
using settings::Range;
using settings::Section;

void read_simulated(Section& section, const fs::path& folder, SimulatedSetup& rig, std::vector<std::string>& others) {
  rig.seed = static_cast<std::uint64_t>(section.integer("seed", IntRange{0, 2'000'000'000, "any number"}, 1));
  rig.railway = named_or_written(section, "railway", folder, others, simulated::load_railway, simulated::read_railway);
  for (const std::string& engine : section.texts("engines", {.min = 1, .max = 100, .help = "engine files"})) {
    rig.engines.push_back(load_into(section, "engines", placed(folder, engine), others, simulated::load_engine));
  }
}

void read_rig(Section section, const fs::path& folder, Configuration& configuration, std::vector<std::string>& others) {
  enum class Kind { simulated, wired };
  const Kind kind = section.word<Kind>("kind", {{"simulated", Kind::simulated}, {"wired", Kind::wired}});
  if (kind == Kind::simulated) return read_simulated(section, folder, configuration.rig, others);
  configuration.wires = read_wires(section, folder);
  check_gates(section, *configuration.wires, configuration.track.gates.size());
}

Gate read_gate(Section section, double length_mm, double default_error_mm) {
  Gate gate;
  gate.name = section.text("name", {}, "the gate's name");
  gate.position_mm =
      section.number("position_mm", Range{0, length_mm, "the distance from the track's zero in forward running"});
  gate.position_error_mm = section.number(
      "position_error_mm", Range{0.001, 50, "the standard uncertainty of the position"}, default_error_mm);
  gate.guards_end = section.flag("guards_end", gate.guards_end);
  return gate;
}

void read_track(Section section, TestTrack& track) {
  track.shape = section.word<TrackShape>("shape", {{"loop", TrackShape::loop}, {"shuttle", TrackShape::shuttle}});
  track.length_mm = section.number("length_mm", Range{300, 1e6, "once around the loop, or between the buffers"});
  track.stamp_error_s = section.number("stamp_error_s", Range{1e-7, 0.1, "the standard uncertainty of one time stamp"},
                                       track.stamp_error_s);
  track.quiet_s = section.number("quiet_s", Range{0.001, 0.5, "how long a beam may bounce"}, track.quiet_s);
  std::set<std::string> names;
  for (Section part : section.sections("gates", {.min = 1, .max = 64, .help = "the gates along the track"})) {
    track.gates.push_back(read_gate(part, track.length_mm, Gate{}.position_error_mm));
    if (!names.insert(track.gates.back().name).second) {
      part.complain("name", "\"" + track.gates.back().name + "\" names two gates; give each its own name");
    }
    if (track.gates.back().guards_end && track.shape == TrackShape::loop) {
      part.complain("guards_end", "a loop has no end; take this out, or say \"shape\": \"shuttle\"");
    }
  }
  if (const Gate* const gate = misplaced_guard(track); gate != nullptr && track.shape == TrackShape::shuttle) {
    section.complain("gates", "gate \"" + gate->name +
                                  "\" is to guard an end of the track and lies between others; guards lie beyond all "
                                  "gates that engines pass");
  }
}

void read_trap(Section section, TrapWish& wish) {
  wish.low_gate = section.text("low_gate", std::string());
  wish.high_gate = section.text("high_gate", std::string());
  wish.longest_share = section.number("longest_share", Range{0.01, 1, "a share of the track"}, wish.longest_share);
  wish.length_error_mm =
      section.number("length_error_mm", Range{0.01, 1000, "the loop's uncertain length"}, wish.length_error_mm);
}

void read_proof(Section section, Configuration& configuration) {
  configuration.confidence =
      section.number("confidence", Range{0.8, 0.999, "the chance that a step called proved lies in tolerance"},
                     configuration.confidence);
  configuration.patience = section.number(
      "patience",
      Range{1, 20, "times the shortest proof of the whole sheet; more proves more steps of an uneven engine"},
      configuration.patience);
}

void read_limits(Section section, Configuration& configuration) {
  read_guard_limits(section, !configuration.wires || configuration.wires->board, configuration.limits);
  configuration.caps = read_running_caps(section);
  configuration.retry = read_retry(section);
  configuration.leave = read_leave(section);
  configuration.engine_budget_s =
      section.number("engine_budget_s", Range{60, 86400, "track time for one engine"}, configuration.engine_budget_s);
}

/// The shift's own list, or the file that is named, which may narrow hours and caps.
void read_shift(Section& root, const fs::path& folder, const fs::path& shift_file, Configuration& configuration,
                std::vector<std::string>& others) {
  fs::path file = shift_file;
  if (root.is_text("shift")) {
    const fs::path named = placed(folder, root.text("shift", {}, "engines, or the name of a shift's file"));
    if (file.empty()) file = named;
  } else {
    configuration.shift = read_entries(root, "shift", folder, "the engines whose turn it is");
  }
  if (file.empty()) return;
  const ShiftFrame frame{configuration.hours, configuration.caps};
  const auto load = [&frame](const fs::path& path) { return load_shift(path, frame); };
  ShiftPlan plan = load_into(root, "shift", file, others, load);
  configuration.shift = std::move(plan.engines);
  configuration.hours = std::move(plan.hours);
  configuration.caps = plan.caps;
}

/// @returns program and arguments; none where there is no such hook
std::vector<std::string> read_hook(Section& hooks, const char* key, const fs::path& folder) {
  if (!hooks.has(key)) return {};
  std::vector<std::string> words = hooks.texts(key, {.min = 1, .max = 100, .help = "a program and its arguments"});
  for (const std::string& word : words) {
    if (word.find('\0') == std::string::npos) continue;
    hooks.complain(key, "a word holds a character \\u0000, where a program would see its end; take it out");
  }
  if (words.empty()) return words;
  words.front() = placed(folder, words.front()).string();
  return words;
}

HookSettings read_hooks(Section hooks, const fs::path& folder) {
  HookSettings result;
  result.on_finish = read_hook(hooks, "on_finish", folder);
  result.on_trip = read_hook(hooks, "on_trip", folder);
  result.limit_s = hooks.number("limit_s", Range{1, 600, "until a hook is killed"}, result.limit_s);
  return result;
}

enum class LogLevel { debug, info, warning, error };

std::string read_log_level(Section& root) {
  const LogLevel level = root.word<LogLevel>("log_level",
                                             {{"debug", LogLevel::debug},
                                              {"info", LogLevel::info},
                                              {"warning", LogLevel::warning},
                                              {"error", LogLevel::error}},
                                             LogLevel::info);
  constexpr const char* names[] = {"debug", "info", "warning", "error"};
  return names[static_cast<int>(level)];
}

}  // namespace

fs::path default_state(const fs::path& file) {
  const char* of_systemd = std::getenv("STATE_DIRECTORY");
  return of_systemd != nullptr && *of_systemd != '\0' ? fs::path(of_systemd) : fs::path("state") / file.stem();
}

fs::path default_control_socket() {
  const char* runtime = std::getenv("XDG_RUNTIME_DIR");
  return (runtime != nullptr && *runtime != '\0' ? fs::path(runtime) : fs::path("/run/lapwright")) / "lapwright.sock";
}

Configuration load_configuration(const fs::path& path, const fs::path& shift_file) {
  settings::Document document = settings::load_file(path);
  Section root = document.root();
  const fs::path folder = path.parent_path();
  std::vector<std::string> others;
  Configuration configuration;
  configuration.file = path;
  configuration.railway = root.text("name", {}, "the railway's name, for headings");
  root.text("notes", std::string());  // for people only
  read_track(root.section("track"), configuration.track);
  read_rig(root.section("rig"), folder, configuration, others);
  if (auto staging = root.maybe_section("staging")) {
    read_staging(*staging, folder, configuration.wires.has_value(), configuration.track, configuration.staging);
    if (configuration.wires) use_routes(*configuration.wires, configuration.staging.routes);
  }
  read_trap(root.section_or_defaults("trap"), configuration.trap);
  read_proof(root.section_or_defaults("proof"), configuration);
  configuration.fleet = read_entries(root, "fleet", folder, "engines that can be added to the queue by name");
  configuration.reports = placed(folder, root.text("reports", "reports", "the folder for reports"));
  configuration.hours = read_hours(root);
  configuration.state = placed(folder, root.text("state", default_state(path).string()));
  read_limits(root.section_or_defaults("limits"), configuration);
  read_shift(root, folder, shift_file, configuration, others);
  configuration.hooks = read_hooks(root.section_or_defaults("hooks"), folder);
  configuration.control_socket = placed(folder, root.text("control_socket", default_control_socket().string()));
  configuration.log_level = read_log_level(root);
  finish_all(document, others);
  configuration.effective = document.effective_text();
  return configuration;
}

std::vector<ShiftEntry> engines_of(const fs::path& path, const fs::path& shift_file) {
  std::vector<ShiftEntry> named;
  const fs::path folder = path.parent_path();
  try {
    settings::Document document = settings::load_file(path);
    Section root = document.root();
    const bool elsewhere = root.is_text("shift") || !shift_file.empty();
    const fs::path file = shift_file.empty() && elsewhere ? placed(folder, root.text("shift")) : shift_file;
    named = elsewhere ? engines_of_shift(file) : read_entries(root, "shift", folder, "");
    const std::vector<ShiftEntry> fleet = read_entries(root, "fleet", folder, "");
    named.insert(named.end(), fleet.begin(), fleet.end());
  } catch (const settings::Errors&) {  // no JSON: it names nothing
  }
  return named;
}

}  // namespace lapwright
