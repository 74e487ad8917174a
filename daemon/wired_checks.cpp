#include "daemon/wired_checks.h"

#include "drivers/safety/current_watch.h"
#include "drivers/safety/whole_number.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double told_apart_mA = 5;  // of two means of a tenth of a second
constexpr Duration proof_looks_every = std::chrono::milliseconds(10);
constexpr Duration until_steady = std::chrono::milliseconds(400);

std::string mA(double value) { return whole(value) + " mA"; }

CheckLine line(const std::string& what, const std::string& trouble, const std::string& good) {
  return CheckLine{what, trouble.empty(), trouble.empty() ? good : trouble};
}

CheckLine look_at_sensor(const trackside::Board& board, bool engine_at_work) {
  const std::optional<double> current_mA = board.track_current_mA();
  if (!current_mA) {
    return {"current sensor", false, "no reading for 0.3 s; look at the sensor and at the board's supply"};
  }
  const bool flows = *current_mA > dead_track_mA && !engine_at_work;
  if (!flows) return {"current sensor", true, "reads " + mA(*current_mA)};
  return {"current sensor", false, "reads " + mA(*current_mA) + " though the track is dead; " + dead_track_advice};
}

/// @param blocked  empty: nobody has told
CheckLine look_at_gate(const std::string& what, std::optional<bool> blocked, bool engine_at_work) {
  if (!blocked) return {what, std::nullopt, "whoever reports it has not told how it is"};
  if (!*blocked) return {what, true, "clear"};
  if (engine_at_work) return {what, std::nullopt, "something stands in the beam, perhaps the engine"};
  return {what, false,
          "something stands in the beam, or the sensor is dead; set the engine down before the gates, clear the track, "
          "then look at the sensor"};
}

std::optional<bool> board_gate(const trackside::Board& board, int gate) {
  if (!board.state()) return std::nullopt;
  return ((board.state()->blocked_gates >> static_cast<unsigned>(gate - 1)) & 1U) != 0;
}

void look_at_gates(CheckLines& lines, const WiredParts& parts, const WiredSetup& setup, bool engine_at_work) {
  const auto note = [&](const std::string& what, std::optional<bool> blocked) {
    lines.push_back(look_at_gate(what, blocked, engine_at_work));
  };
  if (parts.bus_gates != nullptr) {
    for (int gate = 0; gate < parts.bus_gates->gates(); ++gate) {
      note("gate " + std::to_string(gate + 1) + " on the bus", parts.bus_gates->blocked(gate));
    }
    return;
  }
  for (const int gate : setup.board->wish.gates) {
    note("gate " + std::to_string(gate) + " of the board", board_gate(*parts.board, gate));
  }
}

}  // namespace

CheckLines look_at(const WiredParts& parts, const WiredSetup& setup, bool engine_at_work) {
  CheckLines lines;
  const LinkHealth& station = parts.station_link.health();
  lines.push_back(line("link to the station", station.up ? "" : station.why, text(setup.station_link)));
  lines.push_back(line("station", parts.station.trouble(), "answers"));
  if (parts.board == nullptr) {
    lines.push_back({"board", std::nullopt, "there is none: nothing opens the track feed when this program fails"});
    look_at_gates(lines, parts, setup, engine_at_work);
    return lines;
  }
  const LinkHealth& board = parts.board_link->health();
  lines.push_back(line("link to the board", board.up ? "" : board.why, text(setup.board->link)));
  lines.push_back(
      line("board", parts.board->trouble(), "is number " + setup.board->wish.serial + ", set as it must be"));
  lines.push_back(look_at_sensor(*parts.board, engine_at_work));
  look_at_gates(lines, parts, setup, engine_at_work);
  return lines;
}

asio::awaitable<double> RelayProof::steady_current() {
  const Instant until = clock_.now() + until_steady;
  while (clock_.now() < until && !given_up_) {
    board_.vouch();
    co_await clock_.sleep_for(proof_looks_every);
  }
  co_return board_.track_current_mA().value_or(0);
}

/// Before anything is switched on.
void RelayProof::check_wanted() const {
  if (given_up_) throw RigFault("the track was made dead by a person while the relay was tried");
}

asio::awaitable<CheckLine> RelayProof::run() {
  check_wanted();
  co_await station_.set_power(true);
  const double open_mA = co_await steady_current();
  check_wanted();
  co_await board_.set_power(true);
  const double closed_mA = co_await steady_current();
  co_await board_.set_power(false);
  co_await station_.set_power(false);
  check_wanted();
  const std::string read = mA(open_mA) + " open, " + mA(closed_mA) + " closed";
  const double through_mA = closed_mA - open_mA;
  if (through_mA >= told_apart_mA) co_return CheckLine{"relay", true, "opens and closes: " + read};
  if (open_mA < told_apart_mA) {
    co_return CheckLine{"relay", std::nullopt, "can't be told, the engine draws too little at rest: " + read};
  }
  co_return CheckLine{"relay", false,
                      read +
                          ": the current is the same. The relay is welded, or something bridges it; nothing would "
                          "cut the track's power"};
}

}  // namespace lapwright
