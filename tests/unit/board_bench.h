// The host's side of the trackside board beside a simulated board, with a wire between them, in virtual time.
#pragma once

#include <boost/test/unit_test.hpp>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "drivers/simulated/served/board_end.h"
#include "drivers/trackside/board.h"
#include "drivers/virtual_clock.h"
#include "tuning/rig_fault.h"

namespace lapwright::trackside {

namespace asio = boost::asio;
using simulated::BoardEnd;
using simulated::BoardIdentity;

inline const std::vector<std::pair<std::string, std::string>> usual_settings = {{"gates", "2"}, {"trip_mA", "2000"}};

inline BoardIdentity identity() {
  BoardIdentity result;
  result.settings = usual_settings;
  result.settings.emplace_back("lease_ms", "400");  // a board tells more than the configuration asks for
  return result;
}

inline BoardWish wish() { return BoardWish{"QT-0001", usual_settings, {1, 3}}; }

/// Board, wire and simulated board; a script runs beside them.
struct BoardBench : Outlet {
  using Script = std::function<asio::awaitable<void>(BoardBench&)>;
  explicit BoardBench(const BoardIdentity& as = identity())
      : end(
            as, clock, [this](std::string_view bytes) { to_host += bytes; },
            [this](bool closed) {
              if (!closed) openings.push_back(clock.now());
            }) {}

  void send(std::string_view bytes) override {
    if (!up) throw RigFault("down");
    if (bytes.starts_with('P')) ++power_lines;
    to_board += bytes;
  }
  void send_first(std::string_view bytes) override { to_board.insert(0, bytes); }
  void cut_in(std::string_view bytes) override {
    if (!given_up.empty()) throw RigFault("about to be lost");  // as a real link does then
    to_board = bytes;
  }
  void give_up(const std::string& why) override { given_up = why; }

  void open() {
    up = true;
    board.opened(*this);
  }
  void lose() {
    up = false;
    to_board.clear();
    to_host.clear();
    board.lost("unplugged");
  }
  /// Bytes take a millisecond; a deaf end hears nothing and a dumb one is not heard.
  asio::awaitable<void> wire();
  asio::awaitable<void> play(Script script) {
    co_await script(*this);
    over = true;
    board.stop();
  }
  void run(Script script);
  asio::awaitable<void> pass(double length_s) { co_await clock.sleep_for(seconds(length_s)); }
  /// The fault that comes of asking for power; empty if none.
  asio::awaitable<std::string> try_power(bool on);
  asio::awaitable<std::string> try_edge(double wait_s);

  VirtualClock clock;
  std::string to_board, to_host, given_up;
  int power_lines = 0;                        ///< that went to the board
  bool cut_soon = false, reset_soon = false;  ///< in the same moment as the next bytes
  bool guarded = true;                        ///< somebody watches over the engine
  bool up = false, over = false, deaf = false, dumb = false;
  std::vector<Instant> openings;
  BoardEnd end;
  Board board{wish(), clock};
};

}  // namespace lapwright::trackside
