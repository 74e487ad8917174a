#include "daemon/staging_setup.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "daemon/load_into.h"
#include "drivers/lcc/identity.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
using settings::IntRange;
using settings::Range;
using settings::Section;

constexpr double least_short_mm = 50;       // of the buffers, for an engine that stops a moment late …
constexpr double least_short_share = 0.05;  // … and of the way, for its speed is known no better
constexpr double shortest_lap_s = 8;        // at a moderate speed: nobody is round before anything can be done
constexpr double moderate_share = 0.7;      // of the sheet's top speed

TurnoutOrder read_order(Section part) {
  if (part.has("event")) {
    const std::string text = part.text("event", {}, "the event that sets the turnout so");
    const auto event = lcc::EventId::parse(text);
    if (!event) part.complain("event", "\"" + text + "\" is no event ID; write eight pairs of hex digits with dots");
    return event.value_or(lcc::EventId{}).value;
  }
  dcc::BasicAccessory accessory;
  const int number = part.integer("accessory", IntRange{1, 2040, "the turnout's number, or \"event\""});
  accessory.address = dcc::accessory_address(number);
  enum class Lie { straight, diverging };
  accessory.straight =
      part.word<Lie>("lie", {{"straight", Lie::straight}, {"diverging", Lie::diverging}}) == Lie::straight;
  return accessory;
}

std::vector<TurnoutOrder> read_orders(Section& section, const char* key, bool wired) {
  std::vector<TurnoutOrder> orders;
  if (!wired) return orders;
  for (const Section& part : section.sections(key, {.min = 1, .max = 16, .help = "orders to turnouts"})) {
    orders.push_back(read_order(part));
  }
  return orders;
}

int gate_named(Section& section, const TestTrack& track) {
  const std::string name =
      section.text("clear_gate", {}, "the gate that sees an engine come out, clear of the turnouts");
  const auto is_it = [&](const Gate& gate) { return gate.name == name; };
  const auto found = std::find_if(track.gates.begin(), track.gates.end(), is_it);
  if (found != track.gates.end()) return static_cast<int>(found - track.gates.begin());
  section.complain("clear_gate", "the track has no gate \"" + name + "\"; name one of /track/gates");
  return 0;
}

/// Without it an engine that the turnouts lead past its track would be believed to be home, and run into.
void check_gate_beyond(Section& section, const TestTrack& track, double shortest_mm) {
  const Staging& staging = *track.staging;
  const int beyond = next_gate(track, staging.clear_gate, -staging.out_way);
  const auto at_mm = [&](int gate) { return track.gates[static_cast<std::size_t>(gate)].position_mm; };
  double apart_mm = staging.out_way * (at_mm(staging.clear_gate) - at_mm(beyond));
  if (apart_mm <= 0) apart_mm += track.length_mm;
  if (apart_mm < shortest_mm) return;
  section.complain(
      "clear_gate",
      fmt::format("beyond the turnouts the next gate of the loop, \"{}\", is {:.0f} mm away, and an engine "
                  "runs {:.0f} mm to get home: where turnouts fail nobody would see that it is not there. "
                  "Put a gate on the loop just beyond the turnouts",
                  track.gates[static_cast<std::size_t>(beyond)].name, apart_mm, shortest_mm));
}

}  // namespace

void read_staging(Section section, const fs::path& folder, bool wired, TestTrack& track, StagingSetup& staging) {
  Staging told;
  told.clear_gate = gate_named(section, track);
  told.out_way = section.word<Direction>("out", {{"forward", Direction::forward}, {"reverse", Direction::reverse}},
                                         Direction::forward) == Direction::forward
                     ? 1
                     : -1;
  const double turnout_s = section.number("turnout_s", Range{0.2, 20, "until turnouts lie as they were told"},
                                          in_seconds(staging.routes.settling));
  staging.routes.settling = seconds(turnout_s);
  staging.routes.orders.push_back(read_orders(section, "main", wired));
  double shortest_mm = track.length_mm;
  std::set<fs::path> records;
  for (Section part : section.sections("tracks", {.min = 1, .max = 16, .help = "the staging tracks"})) {
    StagingTrack dead_end;
    dead_end.to_buffer_mm = part.number("to_buffer_mm", Range{200, 1e5, "from the clear gate to the buffers"});
    enum class Faces { out, in };
    const Faces faces = part.word<Faces>("faces", {{"out", Faces::out}, {"in", Faces::in}}, Faces::out);
    dead_end.out = faces == Faces::out ? Direction::forward : Direction::reverse;
    StagingBerth berth;
    berth.record = placed(folder, part.text("record", {}, "the record of the engine that stands there"));
    const double least_mm = std::ceil(least_short_mm + least_short_share * dead_end.to_buffer_mm);
    berth.stop_short_mm =
        part.number("stop_short_mm", Range{least_mm, 1e4, "of the buffers: speeds are known within a few per cent"},
                    std::max(150.0, least_mm));
    staging.routes.orders.push_back(read_orders(part, "turnouts", wired));
    if (!records.insert(berth.record).second) part.complain("record", "two tracks name it; each engine has one place");
    shortest_mm = std::min(shortest_mm, dead_end.to_buffer_mm - berth.stop_short_mm);
    told.tracks.push_back(dead_end);
    staging.berths.push_back(berth);
  }
  if (track.shape != TrackShape::loop) section.complain("", "staging tracks lie beside a loop; take this out");
  track.staging = told;
  if (section.mistakes() == 0) check_gate_beyond(section, track, shortest_mm);
}

std::optional<StagingPlace> staging_place(const StagingSetup& staging, const fs::path& record, const TuneOrder& order) {
  const auto is_it = [&](const StagingBerth& berth) { return berth.record == record; };
  const auto found = std::find_if(staging.berths.begin(), staging.berths.end(), is_it);
  if (found == staging.berths.end() || order.aims.empty()) return std::nullopt;
  const auto slower = [](const StepAim& a, const StepAim& b) { return a.speed_mm_s < b.speed_mm_s; };
  const double top_share_mm_s =
      moderate_share * std::max_element(order.aims.begin(), order.aims.end(), slower)->speed_mm_s;
  const double wished_mm_s = std::min(top_share_mm_s, order.track.length_mm / shortest_lap_s);
  const auto nearer = [&](const StepAim& a, const StepAim& b) {
    return std::abs(a.speed_mm_s - wished_mm_s) < std::abs(b.speed_mm_s - wished_mm_s);
  };
  const StepAim& moderate = *std::min_element(order.aims.begin(), order.aims.end(), nearer);
  StagingPlace place;
  place.route = static_cast<int>(found - staging.berths.begin()) + 1;
  place.stop_short_mm = found->stop_short_mm;
  place.mode = order.mode;
  place.step = moderate.step;
  place.speed_mm_s = moderate.speed_mm_s;
  return place;
}

}  // namespace lapwright
