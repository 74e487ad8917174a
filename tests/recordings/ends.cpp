#include "tests/recordings/ends.h"

#include <boost/asio/co_spawn.hpp>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <sstream>
#include <stdexcept>

#include "drivers/links/traffic_log.h"
#include "drivers/simulated/served/board_end.h"
#include "drivers/simulated/served/lcc_end.h"
#include "tests/recordings/lockstep.h"

namespace lapwright::recordings {
namespace {

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " ") + word;
  return text;
}

/// lockstep_board as a process: what it takes on its input and answers stands in tests/firmware/lockstep_board.cpp.
class FirmwareEnds final : public Ends {
 public:
  explicit FirmwareEnds(const Case& given) : board_(start(given)) {}
  void opened(const std::string&) override {}
  void hear(const std::string&, const std::string& bytes) override { board_.say("send " + escaped(bytes)); }
  void pass(Duration length) override {
    const auto us = std::chrono::duration_cast<std::chrono::microseconds>(length).count();
    board_.say("run " + std::to_string(us));
    said_ += unescaped(board_.listen());
  }
  std::string take(const std::string& link) override {
    return link == "board" ? std::exchange(said_, {}) : std::string();
  }
  void obey(const std::vector<std::string>& words) override { board_.say(joined(words)); }

 private:
  static std::vector<std::string> start(const Case& given) {
    const char* program = std::getenv("LAPWRIGHT_BOARD");
    if (program == nullptr) throw std::runtime_error("LAPWRIGHT_BOARD names no lockstep_board");
    const auto build = given.ends_settings.find("build");
    return {program, build == given.ends_settings.end() ? "release" : build->second};
  }
  Lockstep board_;
  std::string said_;
};

/// One engine on a loop, behind the simulated station and the simulated board.
class SimulatedEnds final : public Ends {
 public:
  SimulatedEnds(const Case& given, Session& session)
      : clock_(session.clock()),
        rig_(railway(), engine(given), session.clock(), 11),
        board_(
            identity(given), session.clock(), [this](std::string_view bytes) { said_["board"] += bytes; },
            [this](bool) { switch_track(); }),
        station_(
            rig_, bus(given), [this](std::string_view bytes) { said_["station"] += bytes; },
            [this] { switch_track(); }),
        with_board_(given.board.has_value()) {
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    boost::asio::co_spawn(session.context(), rig_.run(), rethrow);
    boost::asio::co_spawn(session.context(), station_.run(), rethrow);
    boost::asio::co_spawn(session.context(), gates(), rethrow);
    switch_track();
  }
  void opened(const std::string& link) override {
    if (link == "board") board_.boot('p');
  }
  void hear(const std::string& link, const std::string& bytes) override {
    if (link == "board") board_.hear(bytes);
    if (link == "station") station_.hear(bytes);
  }
  void pass(Duration) override {
    if (!with_board_) return;
    board_.sample(rig_.track_current_mA().value_or(0));
    board_.tick();
  }
  std::string take(const std::string& link) override { return std::exchange(said_[link], {}); }
  void obey(const std::vector<std::string>& words) override {
    if (words.at(0) == "foreign") said_["station"] += unescaped(words.at(1));  // a frame of another node's
    if (words.at(0) == "button") board_.press_button(words.at(1) == "1");
    if (words.at(0) == "reset") board_.boot('e');
  }

 private:
  static simulated::RailwayDescription railway() {
    simulated::RailwayDescription result;
    result.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
    result.start_mm = 900;
    return result;
  }
  static std::string setting(const Case& given, const char* name) {
    const auto found = given.ends_settings.find(name);
    return found == given.ends_settings.end() ? std::string() : found->second;
  }
  static simulated::EngineDescription engine(const Case& given) {
    simulated::EngineDescription result;
    result.name = "Peat Cutter";
    result.address = 3;
    result.decoder.answers_reads = setting(given, "feedback") != "no";
    return result;
  }
  static simulated::BoardIdentity identity(const Case& given) {
    simulated::BoardIdentity result;
    if (given.board) result.settings = given.board->settings;
    return result;
  }
  static simulated::LccEndSettings bus(const Case& given) {
    simulated::LccEndSettings result;
    result.feedback = setting(given, "feedback") != "no";
    result.bit_writes = setting(given, "bit_writes") != "no";
    for (const lcc::GateEvents& gate : given.gate_events) {
      result.gate_blocked.push_back(gate.blocked.value);
      result.gate_clear.push_back(gate.clear.value);
    }
    return result;
  }
  void switch_track() {
    const bool live = station_.powered() && (board_.relay_closed() || !with_board_);
    if (live != rig_.railway().power()) rig_.set_power(live);
  }
  boost::asio::awaitable<void> gates() {
    for (;;) {
      const Instant soon = clock_.now() + std::chrono::milliseconds(100);
      const std::optional<GateEdge> edge = co_await rig_.next_edge(soon);
      if (!edge) continue;
      if (with_board_) board_.edge(edge->gate + 1, edge->blocked, rig_.age(*edge));
      station_.edge(edge->gate, edge->blocked);
    }
  }

  VirtualClock& clock_;
  std::map<std::string, std::string> said_;
  simulated::SimulatedRig rig_;
  simulated::BoardEnd board_;
  simulated::LccEnd station_;
  bool with_board_;
};

}  // namespace

std::unique_ptr<Ends> make_ends(const Case& given, Session& session) {
  if (given.ends == "firmware") return std::make_unique<FirmwareEnds>(given);
  if (given.ends == "simulated") return std::make_unique<SimulatedEnds>(given, session);
  throw std::runtime_error(given.name + " was recorded from '" + given.ends + "', which can't be recorded again");
}

}  // namespace lapwright::recordings
