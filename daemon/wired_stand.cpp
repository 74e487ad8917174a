#include "daemon/wired_stand.h"

#include <boost/asio/co_spawn.hpp>

#include "daemon/wired_checks.h"
#include "drivers/safety/current_watch.h"
#include "drivers/wired_rig.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(100);
constexpr Duration gates_may_take = std::chrono::milliseconds(800);  // as long as a node may think of an answer
constexpr Duration sensor_may_take = std::chrono::seconds(1);
constexpr Duration before_asking_again = std::chrono::seconds(1);
constexpr Duration board_silence = std::chrono::seconds(1);  // it says something ten times a second

LinkSettings link_settings(const std::string& name, const LinkAddress& address, Duration silence) {
  LinkSettings settings;
  settings.name = name;
  settings.address = address;
  settings.silence = silence;
  return settings;
}

constexpr const char* made_dead = "the track was made dead by a person";

class WiredPlacement final : public Placement {
 public:
  WiredPlacement(lcc::LccStation& station, WiredRig& rig, bool has_board, bool& in_use)
      : station_(station), rig_(rig), has_board_(has_board), listens_(station.listening()), in_use_(in_use) {
    in_use_ = true;
  }
  [[nodiscard]] Rig& rig() override { return rig_; }
  [[nodiscard]] TrackPower& power() override { return rig_; }
  asio::awaitable<void> leave() override {
    in_use_ = false;
    station_.node().bell().ring();  // a link that came back meanwhile is looked at
    try {
      co_await station_.give_back();
    } catch (const RigFault&) {
      // The track is dead by now and the engine was halted: a station that is gone keeps nothing of ours.
    }
  }
  [[nodiscard]] std::vector<std::string> unprotected() const override {
    std::vector<std::string> missing;
    if (!has_board_ && !station_.tells_power()) {
      missing.emplace_back("the station does not say whether track power is off: that the track is dead is not proved");
    }
    if (!has_board_) {
      missing.emplace_back("no trackside board: nothing opens the track feed when this program or the computer fails");
    }
    if (!listens_) missing.emplace_back("the station does not tell of other throttles' commands to the engine");
    return missing;
  }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return std::nullopt; }

 private:
  lcc::LccStation& station_;
  WiredRig& rig_;
  bool has_board_;
  bool listens_;
  bool& in_use_;
};

dcc::VehicleAddress address_of(const EngineRecord& record) {
  return record.long_address ? dcc::VehicleAddress::long_form(record.address)
                             : dcc::VehicleAddress::short_form(record.address);
}

}  // namespace

WiredStand::WiredStand(const WiredSetup& setup, Clock& clock, TrafficLog* log, Waiting waiting)
    : setup_(setup),
      clock_(clock),
      waiting_(std::move(waiting)),
      station_(setup.station, clock),
      events_(station_.node(), setup.gate_events),
      station_link_(link_settings("station", setup.station_link, Duration{}), station_.node(), clock, log) {
  const bool by_events = !setup.gate_events.empty();
  if (by_events) station_.use_event_gates(events_);
  if (setup.board) {
    board_ = std::make_unique<trackside::Board>(setup.board->wish, clock);
    board_link_ = std::make_unique<Link>(link_settings("board", setup.board->link, board_silence), *board_, clock, log);
  }
  EdgeSource* gates = &events_;
  if (!by_events) gates = board_.get();
  rig_ = std::make_unique<WiredRig>(station_, *gates, board_.get());
  rig_->use_routes(setup_.routes, clock_);
}

void WiredStand::start(asio::io_context& context, const Failed& failed) {
  const auto ended = [failed](const std::exception_ptr& failure) {
    if (failure) failed(failure);
  };
  asio::co_spawn(context, station_link_.run(), ended);
  asio::co_spawn(context, station_.run(), ended);
  asio::co_spawn(context, keep_dead(), ended);
  if (!board_) return;
  asio::co_spawn(context, board_link_->run(), ended);
  asio::co_spawn(context, board_->run(), ended);
}

void WiredStand::stop() {
  stop_waiting();
  ended_ = true;
  station_.stop();
  station_link_.stop();
  if (!board_) return;
  board_->stop();
  board_link_->stop();
}

std::string WiredStand::trouble() const {
  if (!station_link_.health().up) return "station: " + station_link_.health().why;
  if (board_link_ && !board_link_->health().up) return "board: " + board_link_->health().why;
  const std::string of_station = station_.trouble();
  const std::string of_board = of_station.empty() && board_ ? board_->trouble() : of_station;
  const bool dead = dead_since_ == station_link_.health().openings;
  return of_board.empty() && !dead ? not_dead_ : of_board;
}

asio::awaitable<void> WiredStand::keep_dead() {
  while (!ended_) {
    const int opening = station_link_.health().openings;
    const bool new_link = opening != dead_since_;
    if (!new_link || in_use_ || !station_.trouble().empty()) {
      co_await station_.node().bell().wait();
      continue;
    }
    bool failed = false;
    try {
      co_await rig_->set_power(false);
      dead_since_ = opening;
    } catch (const RigFault& fault) {
      not_dead_ = fault.what();
      failed = true;
    }
    if (failed) co_await clock_.sleep_for(before_asking_again);
  }
}

asio::awaitable<void> WiredStand::hardware() {
  for (;;) {
    if (stopped_) throw RigFault("the service was stopped before the hardware was there");
    if (cut_) throw RigFault(made_dead);
    const std::string why = trouble();
    if (why != told_) {
      told_ = why;
      waiting_(why.empty() ? why : "waiting for hardware: " + why);
    }
    if (why.empty()) co_return;
    co_await clock_.sleep_for(look_every);
  }
}

/// Gates on the bus are asked how they are; whoever reports them need not answer.
asio::awaitable<void> WiredStand::ask_gates() {
  const auto told = [this] {
    bool all = true;
    for (int gate = 0; gate < events_.gates(); ++gate) all = all && events_.blocked(gate);
    return all;
  };
  if (events_.gates() == 0) co_return;
  events_.ask();
  const Instant limit = clock_.now() + gates_may_take;
  while (!told() && clock_.now() < limit) co_await station_.node().bell().wait_until(clock_, limit);
}

/// A board that has just said its name tells its current a moment later, and the relay that a service which was killed
/// had closed opens when the lease runs out.
asio::awaitable<void> WiredStand::first_reading() {
  co_await ask_gates();
  const Instant limit = clock_.now() + sensor_may_take;
  const auto not_dead = [this] { return board_->track_current_mA().value_or(dead_track_mA + 1) > dead_track_mA; };
  while (board_ && not_dead() && clock_.now() < limit) co_await clock_.sleep_for(look_every);
}

CheckLines WiredStand::checks() const {
  const lcc::EventGates* bus_gates = setup_.gate_events.empty() ? nullptr : &events_;
  const WiredParts parts{station_link_, station_, board_link_.get(), board_.get(), bus_gates};
  CheckLines lines = look_at(parts, setup_, in_use_);
  if (board_) lines.push_back(relay_);
  return lines;
}

asio::awaitable<std::string> WiredStand::make_dead() {
  cut_ = true;
  rig_->send_halt();
  rig_->cut();
  std::string doubt;
  try {
    co_await rig_->set_power(false);
    if (!rig_->tells()) doubt = nobody_tells;
  } catch (const RigFault& fault) {
    doubt = std::string("the track may still be live; switch the supply off by hand: ") + fault.what();
  }
  co_return doubt;
}

asio::awaitable<void> WiredStand::clear(std::optional<StopReason> only) {
  if (board_) co_await board_->clear_fault(only);
  if (!only) cut_ = false;  // a person's cut is a person's to forget
}

asio::awaitable<void> WiredStand::check_relay() {
  if (!board_) co_return;
  RelayProof proof(station_, *board_, clock_, cut_);
  relay_ = co_await proof.run();
  if (relay_.good == false) throw RigFault("the check before the run: relay: " + relay_.text);
}

asio::awaitable<std::unique_ptr<Placement>> WiredStand::put_on_track(const EngineRecord& record) {
  co_await hardware();
  co_await first_reading();
  const dcc::VehicleAddress address = address_of(record);
  const std::string trouble = first_trouble(checks());
  if (!trouble.empty()) throw RigFault("the check before the run: " + trouble);
  co_await station_.take(address);
  in_use_ = true;
  try {
    co_await check_relay();
  } catch (const RigFault&) {
    in_use_ = false;
    dead_since_ = 0;  // whatever was switched on goes off
    station_.node().bell().ring();
    throw;
  }
  if (cut_) throw RigFault(made_dead);
  std::unique_ptr<Placement> placement = std::make_unique<WiredPlacement>(station_, *rig_, board_ != nullptr, in_use_);
  co_return placement;
}

}  // namespace lapwright
