#include "daemon/wired_setup.h"

#include <set>

#include "daemon/load_into.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
using settings::IntRange;
using settings::Range;
using settings::Section;

lcc::EventId read_event(Section& section, std::string_view key) {
  const std::string text = section.text(key, {}, "an event ID such as 01.01.02.00.00.FB.00.0C");
  const auto event = lcc::EventId::parse(text);
  if (!event) section.complain(key, "\"" + text + "\" is no event ID; write eight pairs of hex digits with dots");
  return event.value_or(lcc::EventId{});
}

lcc::StationSettings read_station(Section section, const fs::path& folder, LinkAddress& link) {
  enum class Kind { lcc };
  section.word<Kind>("kind", {{"lcc", Kind::lcc}});
  link = read_link(section.section("link", "where the station is reached"), folder);
  lcc::StationSettings station;
  const std::string id = section.text("node_id", {}, "an LCC node ID of this program's own, such as 05.01.01.01.22.01");
  const auto node = lcc::NodeId::parse(id);
  const bool usable = node && node->value >> 40U != 0 && node->value >> 40U != 0xFF;
  if (!usable) {
    section.complain("node_id",
                     "\"" + id + "\" is no node ID; write six pairs of hex digits with dots, not from 00 or FF");
  }
  station.node.id = node.value_or(lcc::NodeId{});
  station.packet_steps = section.integer("packet_steps", IntRange{28, 128, "28 or 128"}, 28);
  if (station.packet_steps != 28 && station.packet_steps != 128) {
    section.complain("packet_steps", std::to_string(station.packet_steps) + " is neither 28 nor 128");
  }
  station.steps.mph_per_step =
      section.number("mph_per_step", Range{0.1, 10, "the scale speed that the station takes for one step of 126"}, 1.0);
  station.cvs.unconfirmed_is_sent = section.flag("unconfirmed_is_sent", station.cvs.unconfirmed_is_sent);
  station.cvs.reply_confirms = section.flag("reply_confirms", station.cvs.reply_confirms);
  const double reply_s = section.number("cv_reply_s", Range{0.5, 60, "how long a CV access may take"},
                                        in_seconds(station.cvs.reply_within));
  station.cvs.reply_within = seconds(reply_s);
  station.silence = seconds(
      section.number("silence_s", Range{0.3, 10, "how long the station may say nothing of an engine that is asked for"},
                     in_seconds(station.silence)));
  return station;
}

WiredBoard read_board(Section section, const fs::path& folder) {
  WiredBoard board;
  board.link = read_link(section.section("link", "where the trackside board is reached"), folder);
  board.wish.serial = section.text("serial", {}, "the board's own number, as its hello says it");
  board.wish.gates = section.integers("gates", {.min = 1, .max = 8, .help = "the board's gate for each of the track's"},
                                      IntRange{1, 8});
  Section wanted = section.section("settings", "what the board must be set to: names and values as on its line");
  for (const std::string& name : wanted.keys()) {
    board.wish.settings.emplace_back(name, wanted.text(name));
  }
  return board;
}

}  // namespace

LinkAddress read_link(Section section, const fs::path& folder, int lowest_port) {
  if (section.has("host")) {
    TcpAddress address;
    address.host = section.text("host");
    address.port = static_cast<std::uint16_t>(section.integer("port", IntRange{lowest_port, 65535, "the TCP port"}));
    return address;
  }
  SerialAddress address;
  const std::string device =
      section.text("device", {}, "a serial device such as one of /dev/serial/by-id, or \"host\" and \"port\"");
  address.device = placed(folder, device).string();
  address.baud = section.integer("baud", IntRange{1200, 4000000, "bits a second"}, address.baud);
  address.hardware_flow = section.flag("hardware_flow", address.hardware_flow);
  return address;
}

std::vector<lcc::GateEvents> read_gate_events(Section& section) {
  std::vector<lcc::GateEvents> events;
  for (Section gate : section.sections("gate_events", {.min = 0, .max = 64, .help = "for gates on the bus"})) {
    const lcc::EventId blocked = read_event(gate, "blocked");
    events.push_back(lcc::GateEvents{blocked, read_event(gate, "clear")});
  }
  return events;
}

WiredSetup read_wires(Section section, const fs::path& folder) {
  WiredSetup wires;
  wires.station = read_station(section.section("station", "the command station"), folder, wires.station_link);
  if (auto board = section.maybe_section("board")) wires.board = read_board(*board, folder);
  wires.gate_events = read_gate_events(section);
  wires.station.node.consumed = lcc::EventGates::all(wires.gate_events);
  return wires;
}

void use_routes(WiredSetup& wires, const TurnoutRoutes& routes) {
  wires.routes = routes;
  std::set<lcc::EventId> events;
  for (const std::vector<TurnoutOrder>& orders : routes.orders) {
    for (const TurnoutOrder& order : orders) events.insert(lcc::turnout_event(order));
  }
  wires.station.node.produced.assign(events.begin(), events.end());
}

void check_gates(Section section, const WiredSetup& wires, std::size_t gates) {
  const bool by_events = !wires.gate_events.empty();
  if (!by_events && !wires.board) {
    section.complain("board", "nothing reports the gates; add a board, or gate_events");
    return;
  }
  const std::size_t given = by_events ? wires.gate_events.size() : wires.board->wish.gates.size();
  if (given == gates) return;
  section.complain(by_events ? "gate_events" : "board", std::to_string(given) + " gates are given and the track has " +
                                                            std::to_string(gates) +
                                                            "; give one for each, in the track's order");
}

}  // namespace lapwright
