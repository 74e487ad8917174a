// Any text as each of the files that people write: configuration, engine record, target sheet, simulated engine and
// railway. It is read, or the house's own error says what is wrong, one mistake a line.
#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/order.h"
#include "drivers/settings/reader.h"
#include "drivers/settings/sheet_file.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway_file.h"
#include "tests/fuzz/property.h"
#include "tests/temporary_folder.h"

namespace lapwright::fuzz {
namespace {

bool is_utf8(const std::string& text) {
  try {
    return !nlohmann::json(text).dump().empty();
  } catch (const nlohmann::json::exception&) {
    return false;
  }
}

/// Fit to be shown on a terminal and to stand in a report's JSON.
bool is_one_line(const std::string& text) {
  const auto control = [](char byte) { return (byte >= 0 && byte < 0x20) || byte == 0x7F; };
  return !text.empty() && std::ranges::none_of(text, control) && is_utf8(text);
}

/// Whether the reading succeeded. @param name  with which every mistake has to begin; empty: several files are meant
template <class Reading>
bool succeeds(std::string_view name, const Reading& reading) {
  try {
    reading();
    return true;
  } catch (const settings::Errors& errors) {
    property(!errors.lines().empty() && errors.lines().size() <= 200, "an error holds mistakes, and not too many");
    for (const std::string& line : errors.lines()) {
      property(line.starts_with(name), "a mistake says in which file");
      property(is_one_line(line), "a mistake is one line of text: " + line);
    }
    return false;
  }
}

/// A folder with small good files, for configurations that name them.
const std::filesystem::path& folder() {
  static const TemporaryFolder here;
  static const bool filled = [] {
    std::ofstream(here.path() / "engine.json") << R"({"name": "Bracken", "address": 18})";
    std::ofstream(here.path() / "railway.json") << R"({"name": "Quillmoor test loop"})";
    std::ofstream(here.path() / "record.json") << R"({"name": "Bracken", "scale": "HO", "address": {"short": 18}})";
    std::ofstream(here.path() / "sheet.json") << R"({"name": "Slow", "unit": "mph", "steps28": {"1": 1, "28": 18}})";
    return true;
  }();
  property(filled, "the folder can be filled");
  return here.path();
}

void as_configuration(std::string_view text) {
  const std::filesystem::path file = folder() / "configuration.json";
  std::ofstream(file, std::ios::binary) << text;
  Configuration configuration;
  if (!succeeds("", [&] { configuration = load_configuration(file); })) return;
  property(is_utf8(configuration.effective), "the effective configuration is text");
  property(!configuration.shift.empty() && !configuration.track.gates.empty(),
           "a shift has engines, a track has gates");
  for (const Gate& gate : configuration.track.gates) {
    property(gate.position_mm >= 0 && gate.position_mm <= configuration.track.length_mm, "gates stand along the track");
  }
  if (configuration.track.staging) {
    const Staging& staging = *configuration.track.staging;
    property(static_cast<std::size_t>(staging.clear_gate) < configuration.track.gates.size(), "the clear gate is one");
    property(staging.tracks.size() == configuration.staging.berths.size() &&
                 configuration.staging.routes.orders.size() == staging.tracks.size() + 1,
             "each staging track has a place and a route");
  }
  if (configuration.wires) {
    const WiredSetup& wires = *configuration.wires;
    const std::size_t gates =
        wires.gate_events.empty() ? wires.board.value().wish.gates.size() : wires.gate_events.size();
    property(gates == configuration.track.gates.size(), "each gate of the track is reported by one");
    property(wires.station.node.consumed.size() == 2 * wires.gate_events.size(), "gateways are told of every event");
  }
  succeeds("", [&] { static_cast<void>(plan_shift(configuration)); });
}

void as_record(std::string_view text) {
  EngineRecord record;
  if (!succeeds("record:", [&] { record = parse_record(text, "record"); })) return;
  property(record.address >= (record.long_address ? 128 : 1) && record.address <= (record.long_address ? 10239 : 127),
           "an address is of its kind");
  property(record.scale.ratio >= 1 && record.scale.ratio <= 1000 && !record.scale.name.empty(), "a scale is one");
  const std::string ratio = record.scale.name.starts_with("1:") ? record.scale.name.substr(2) : "";
  property(ratio.empty() || std::stod(ratio) == record.scale.ratio, "a scale's name says its ratio");
  property(std::ranges::all_of(record.cvs, [](const auto& cv) { return cv.first >= 1 && cv.first <= 1024; }),
           "CVs are 1 to 1024");
}

void as_sheet(std::string_view text) {
  TargetSheet sheet;
  if (!succeeds("sheet:", [&] { sheet = settings::parse_sheet(text, "sheet"); })) return;
  const std::string written = settings::write_sheet(sheet);
  property(settings::write_sheet(settings::parse_sheet(written, "written")) == written,
           "a sheet reads back as written");
  const std::vector<StepTarget> targets = expand(sheet);
  property(targets.size() == static_cast<std::size_t>(top_step(sheet.mode)), "a sheet says a speed for every step");
  const auto sound = [](const StepTarget& target) {
    return target.speed >= 0 && target.speed <= 500 && target.tolerance >= 0 && target.tolerance <= 500;
  };
  property(std::ranges::all_of(targets, sound), "targets lie within the sheet's limits");
}

void as_simulated(std::string_view text) {
  succeeds("engine:", [&] {
    settings::Document document = settings::parse(text, "engine");
    const auto engine = simulated::read_engine(document.root());
    document.finish();
    property(engine.address >= 1 && engine.address <= 10239, "an engine has a DCC address");
    for (const auto& part : engine.silhouette) property(part.from_mm < part.to_mm, "an opaque part has a length");
  });
  succeeds("railway:", [&] {
    settings::Document document = settings::parse(text, "railway");
    const auto railway = simulated::read_railway(document.root());
    document.finish();
    property(railway.length_mm >= 300, "a railway has a length");
  });
}

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright::fuzz;
  const std::string_view bytes = text(data, size);
  as_configuration(bytes);
  as_record(bytes);
  as_sheet(bytes);
  as_simulated(bytes);
  return 0;
}
