#include "daemon/rig/rig_file.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "daemon/load_into.h"
#include "daemon/wired_setup.h"
#include "drivers/settings/reader.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway_file.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
using settings::IntRange;
using settings::Section;

constexpr int any_port = 0;

simulated::ServedBoard read_board(Section section, const fs::path& folder, std::size_t gates) {
  simulated::ServedBoard board;
  board.place = read_link(section.section("link", "where the board is reached"), folder, any_port);
  simulated::BoardIdentity& identity = board.identity;
  identity.serial = section.text("serial", identity.serial);
  identity.trip_mA = section.integer("trip_mA", IntRange{50, 10000}, 1500);
  identity.lease = std::chrono::milliseconds(section.integer("lease_ms", IntRange{50, 10000}, 400));
  identity.energised = std::chrono::seconds(section.integer("energised_s", IntRange{1, 86400}, 3600));
  identity.settings = {{"gates", std::to_string(gates)},
                       {"trip_mA", std::to_string(std::lround(identity.trip_mA))},
                       {"lease_ms", std::to_string(std::lround(1000 * in_seconds(identity.lease)))},
                       {"energised_s", std::to_string(std::lround(in_seconds(identity.energised)))}};
  return board;
}

simulated::LccEndSettings read_station(Section section, const simulated::EngineDescription& engine) {
  simulated::LccEndSettings station;
  enum class Kind { lcc };
  section.word<Kind>("kind", {{"lcc", Kind::lcc}}, Kind::lcc);
  station.address = engine.address;
  station.feedback = section.flag("feedback", station.feedback);
  station.bit_writes = section.flag("bit_writes", station.bit_writes);
  if (section.has("route_events")) {
    for (const std::string& text :
         section.texts("route_events", {.min = 2, .max = 17, .help = "of the closed loop and each staging track"})) {
      const auto event = lcc::EventId::parse(text);
      if (!event) section.complain("route_events", "\"" + text + "\" is no event ID; write eight pairs of hex digits");
      station.routes.push_back(event.value_or(lcc::EventId{}).value);
    }
  }
  return station;
}

simulated::ServedRigDescription read_rig(Section section, const fs::path& folder, std::vector<std::string>& others) {
  simulated::ServedRigDescription rig;
  rig.name = section.text("name", {}, "the rig's name, for commands");
  rig.seed = static_cast<std::uint64_t>(section.integer("seed", IntRange{0, 2'000'000'000, "any number"}, 1));
  rig.railway = named_or_written(section, "railway", folder, others, simulated::load_railway, simulated::read_railway);
  const fs::path engine = placed(folder, section.text("engine", {}, "the file of the engine on the track"));
  rig.engine = load_into(section, "engine", engine, others, simulated::load_engine);
  Section station = section.section("station", "the command station");
  rig.station_place = read_link(station.section("link", "where the station is reached"), folder, any_port);
  rig.station = read_station(station, rig.engine);
  if (auto board = section.maybe_section("board")) rig.board = read_board(*board, folder, rig.railway.gates.size());
  for (const lcc::GateEvents& gate : read_gate_events(section)) {
    rig.station.gate_blocked.push_back(gate.blocked.value);
    rig.station.gate_clear.push_back(gate.clear.value);
  }
  if (const std::optional<simulated::YardDescription>& yard = rig.railway.yard) {
    const auto is_its = [&](const simulated::YardTrack& track) { return track.engine == rig.engine.name; };
    const auto place = std::find_if(yard->tracks.begin(), yard->tracks.end(), is_its);
    if (place != yard->tracks.end()) rig.railway.start_track = static_cast<int>(place - yard->tracks.begin()) + 1;
  }
  const bool by_events = !rig.station.gate_blocked.empty();
  if (by_events && rig.station.gate_blocked.size() != rig.railway.gates.size()) {
    section.complain("gate_events", std::to_string(rig.station.gate_blocked.size()) +
                                        " gates have events and there are " + std::to_string(rig.railway.gates.size()) +
                                        "; give each its two");
  }
  if (!by_events && !rig.board) section.complain("board", "nothing reports the gates; add a board, or gate_events");
  return rig;
}

}  // namespace

RigFile load_rig_file(const fs::path& path) {
  settings::Document document = settings::load_file(path);
  Section root = document.root();
  const fs::path folder = path.parent_path();
  std::vector<std::string> others;
  RigFile file;
  root.text("name", std::string());  // for people only, as is the next
  root.text("notes", std::string());
  file.control_socket = placed(folder, root.text("control_socket", "lapwright-rig.sock"));
  std::set<std::string> names;
  for (Section part : root.sections("rigs", {.min = 1, .max = 16, .help = "the railways to serve"})) {
    file.rigs.push_back(read_rig(part, folder, others));
    if (!names.insert(file.rigs.back().name).second) {
      part.complain("name", "\"" + file.rigs.back().name + "\" names two rigs; give each its own name");
    }
  }
  finish_all(document, others);
  return file;
}

}  // namespace lapwright
