#include "drivers/simulated/served/served_rig.h"

#include <boost/asio/co_spawn.hpp>
#include <cmath>
#include <cstdio>

#include "drivers/simulated/served/fault_switches.h"
#include "tuning/rig_fault.h"

namespace lapwright::simulated {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(2);
constexpr double short_mA = 5000;  // what the supply gives into it

void only_faults(const std::exception_ptr& failure) {
  try {
    if (failure) std::rethrow_exception(failure);
  } catch (const RigFault&) {
    // The railway was stopped: whoever waited for it is told so.
  }
}

}  // namespace

ServedRig::ServedRig(const ServedRigDescription& description, asio::io_context& context, Note note)
    : description_(description),
      note_(std::move(note)),
      rig_(description.railway, description.engine, clock_, description.seed),
      station_wire_(context.get_executor(), description.station_place, true,
                    [this](std::string_view bytes) {
                      if (!silent_) station_.hear(bytes);
                    }),
      station_(
          rig_, description.station, [this](std::string_view bytes) { from_station(bytes); },
          [this] { switch_track(); }),
      luck_(description.seed ^ 0x6661756c74ULL) {
  rig_.set_power(false);
  if (!description.board) return;
  board_wire_.emplace(context.get_executor(), description.board->place, false,
                      [this](std::string_view bytes) { board_->hear(bytes); });
  board_.emplace(
      description.board->identity, clock_, [this](std::string_view bytes) { board_wire_->say(bytes); },
      [this](bool) { switch_track(); });
}

void ServedRig::start(asio::io_context& context) {
  station_wire_.plug();
  if (board_wire_) {
    board_wire_->plug();
    board_->boot('p');
  }
  switch_track();
  asio::co_spawn(context, rig_.run(), only_faults);
  asio::co_spawn(context, station_.run(), only_faults);
  asio::co_spawn(context, watch(), only_faults);
  asio::co_spawn(context, gates(), only_faults);
}

void ServedRig::stop() {
  stopped_ = true;
  station_.stop();
  rig_.stop();
  station_wire_.unplug();
  if (board_wire_) board_wire_->unplug();
}

std::string ServedRig::where() const {
  std::string text = "station " + station_wire_.where();
  if (board_wire_) text += ", board " + board_wire_->where();
  return text;
}

void ServedRig::from_station(std::string_view bytes) {
  if (!silent_) station_wire_.say(bytes);
}

bool ServedRig::fed() const { return station_.powered() && (!board_ || board_->relay_closed() || welded_); }

void ServedRig::switch_track() {
  const bool driven = fed() && !shorted_;
  if (driven != rig_.railway().power()) rig_.set_power(driven);
  if (fed() == live_) return;
  live_ = fed();
  char text[80];
  std::snprintf(text, sizeof text, "track %s at %.0f mm/s", live_ ? "live" : "dead", rig_.engine().speed_mm_s());
  note_(text);
}

asio::awaitable<void> ServedRig::watch() {
  while (!stopped_) {
    if (board_) {
      double current_mA = rig_.track_current_mA().value_or(0);
      if (shorted_) current_mA = fed() ? short_mA : 0;
      board_->sample(current_mA);
      board_->tick();
    }
    mend_links();
    co_await clock_.sleep_for(look_every);
  }
}

void ServedRig::mend_links() {
  const Instant now = clock_.now();
  std::erase_if(plug_at_, [&](const auto& due) {
    if (now < due.second) return false;
    wire(due.first)->plug();
    note_(due.first + " plugged in");
    return true;
  });
  std::erase_if(unmute_at_, [&](const auto& due) {
    if (now < due.second) return false;
    wire(due.first)->mute(false);
    note_(due.first + " unmuted");
    return true;
  });
}

asio::awaitable<void> ServedRig::gates() {
  while (!stopped_) {
    const Instant soon = clock_.now() + std::chrono::seconds(1);
    const std::optional<GateEdge> edge = co_await rig_.next_edge(soon);
    if (edge) report(edge->gate, edge->blocked, rig_.age(*edge));
  }
}

void ServedRig::report(int gate, bool blocked, Duration age) {
  if (edges_to_lose_ > 0) {
    --edges_to_lose_;
    return;
  }
  if (board_) board_->edge(gate + 1, blocked, age);
  station_.edge(gate, blocked);
}

ServedWire* ServedRig::wire(const std::string& name) {
  if (name == "station") return &station_wire_;
  return name == "board" && board_wire_ ? &*board_wire_ : nullptr;
}

std::string ServedRig::tell(const std::string& words) { return FaultSwitches(*this).obey(words); }

std::string ServedRig::status() const {
  const Engine& engine = rig_.engine();
  const double length_mm = description_.railway.length_mm;
  const double along_mm = std::fmod(std::fmod(engine.position_mm(), length_mm) + length_mm, length_mm);
  char text[200];
  std::snprintf(text, sizeof text, "track %s, engine at %.0f mm, %.1f mm/s, %.0f mA, relay %s", live_ ? "live" : "dead",
                along_mm, engine.speed_mm_s(), rig_.track_current_mA().value_or(0),
                !board_ ? "none" : (board_->relay_closed() ? "closed" : "open"));
  const std::optional<Yard>& yard = rig_.railway().yard();
  if (!yard) return text;
  if (yard->derailed()) return std::string(text) + ", derailed at the turnouts";
  const bool home = yard->is_home(engine.position_mm());
  return std::string(text) + (home ? ", home in staging track " + std::to_string(yard->track()) : ", on the loop");
}

}  // namespace lapwright::simulated
