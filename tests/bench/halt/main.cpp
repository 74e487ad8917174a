// How long a halt takes from the request to its last byte at the other end of the wires, while the trackside board
// reports 2,000 gate edges a second. bash tests/bench/run.sh halt [HALTS]
//
// Program and hardware run in a thread each and talk over a pseudo-terminal and TCP on loopback. The last byte is the
// later of the board's cut byte and the station's emergency-off event; between request and cut the program waits 20 ms
// on purpose, for the emergency stop to reach the engine.
#include <algorithm>
#include <atomic>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <cstdio>
#include <cstdlib>
#include <thread>

#include "drivers/lcc/lcc_station.h"
#include "drivers/links/link.h"
#include "drivers/real_clock.h"
#include "drivers/safety/guarded_rig.h"
#include "drivers/simulated/random.h"
#include "drivers/simulated/served/board_end.h"
#include "drivers/simulated/served/lcc_end.h"
#include "drivers/simulated/served/served_wire.h"
#include "drivers/trackside/line.h"
#include "drivers/wired_rig.h"
#include "tests/temporary_folder.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;
constexpr int edges_per_s = 2000;
constexpr int engine_address = 12;
const std::vector<std::pair<std::string, std::string>> board_settings = {{"gates", "2"}, {"trip_mA", "2000"}};

simulated::RailwayDescription loop() {
  simulated::RailwayDescription railway;
  railway.length_mm = 1000;
  return railway;
}

simulated::EngineDescription engine() {
  simulated::EngineDescription engine;
  engine.address = engine_address;
  return engine;
}

/// The other end of the wires, in a thread of its own.
class Hardware {
 public:
  Hardware() {
    rig_.set_power(false);
    station_wire_.plug();
    board_wire_.plug();
    port_ = station_wire_.port();
    board_.boot('p');
    asio::co_spawn(context_, rig_.run(), asio::detached);
    asio::co_spawn(context_, station_.run(), asio::detached);
    asio::co_spawn(context_, flood(), asio::detached);
    thread_ = std::thread([this] { context_.run(); });
  }
  ~Hardware() {
    asio::post(context_, [this] {
      stopped_ = true;
      station_.stop();
      rig_.stop();
      station_wire_.unplug();
      board_wire_.unplug();
    });
    thread_.join();
  }
  Hardware(const Hardware&) = delete;
  Hardware& operator=(const Hardware&) = delete;

  [[nodiscard]] std::uint16_t port() const { return port_; }
  [[nodiscard]] std::string board_device() const { return (folder_.path() / "board").string(); }
  /// From now on the first of each counts; what the program repeats when it has been told that all is dead does not.
  void begin_anew() {
    cut_at_ = Instant{};
    off_at_ = Instant{};
  }
  [[nodiscard]] Instant last_byte() const { return std::max(cut_at_.load(), off_at_.load()); }
  [[nodiscard]] bool both_came() const { return cut_at_.load() != Instant{} && off_at_.load() != Instant{}; }
  [[nodiscard]] std::uint64_t edges() const { return edges_; }

 private:
  void note(std::atomic<Instant>& first) {
    if (first.load() == Instant{}) first = clock_.now();
  }
  void hear_board(std::string_view bytes) {
    if (bytes.find(trackside::cut_byte) != std::string_view::npos) note(cut_at_);
    board_.hear(bytes);
  }
  void hear_station(std::string_view bytes) {
    if (bytes.find("N010000000000FFFF") != std::string_view::npos && bytes.find("X195B4") != std::string_view::npos) {
      note(off_at_);
    }
    station_.hear(bytes);
  }
  asio::awaitable<void> flood() {
    bool blocked = false;
    const Instant begun = clock_.now();
    while (!stopped_) {
      const auto due = static_cast<std::uint64_t>(edges_per_s * in_seconds(clock_.now() - begun));
      for (; edges_ < due; ++edges_) board_.edge(1, blocked = !blocked, Duration{});
      board_.tick();
      co_await clock_.sleep_for(std::chrono::milliseconds(1));
    }
  }
  static simulated::LccEndSettings station_settings() {
    simulated::LccEndSettings settings;
    settings.address = engine_address;
    return settings;
  }
  static simulated::BoardIdentity identity() {
    simulated::BoardIdentity identity;
    identity.settings = board_settings;
    return identity;
  }

  TemporaryFolder folder_;
  asio::io_context context_{1};
  RealClock clock_;
  simulated::SimulatedRig rig_{loop(), engine(), clock_, 1};
  simulated::ServedWire station_wire_{context_.get_executor(), TcpAddress{"127.0.0.1", 0}, true,
                                      [this](std::string_view bytes) { hear_station(bytes); }};
  simulated::ServedWire board_wire_{context_.get_executor(), SerialAddress{board_device()}, false,
                                    [this](std::string_view bytes) { hear_board(bytes); }};
  simulated::LccEnd station_{rig_, station_settings(), [this](std::string_view bytes) { station_wire_.say(bytes); },
                             [] {}};
  simulated::BoardEnd board_{identity(), clock_, [this](std::string_view bytes) { board_wire_.say(bytes); },
                             [](bool) {}};
  std::uint16_t port_ = 0;
  std::atomic<Instant> cut_at_{}, off_at_{};
  std::atomic<std::uint64_t> edges_ = 0;
  bool stopped_ = false;
  std::thread thread_;
};

LinkSettings link_to(const std::string& name, LinkAddress address) {
  LinkSettings settings;
  settings.name = name;
  settings.address = std::move(address);
  settings.first_retry = std::chrono::milliseconds(50);
  return settings;
}

lcc::StationSettings station_settings() {
  lcc::StationSettings settings;
  settings.node.id = lcc::NodeId::parse("05.01.01.01.22.06").value();
  return settings;
}

/// The program's end: what the service has between its control socket and the wires.
class Program {
 public:
  Program(Hardware& hardware, int halts)
      : hardware_(hardware),
        halts_(halts),
        station_link_(link_to("station", TcpAddress{"127.0.0.1", hardware.port()}), station_.node(), clock_, nullptr) {}
  std::vector<double> run() {
    for (auto* work : {&station_link_, &board_link_}) asio::co_spawn(context_, work->run(), asio::detached);
    asio::co_spawn(context_, station_.run(), asio::detached);
    asio::co_spawn(context_, board_.run(), asio::detached);
    asio::co_spawn(context_, halts(), [this](const std::exception_ptr& failure) {
      failure_ = failure;
      context_.stop();
    });
    context_.run();
    if (failure_) std::rethrow_exception(failure_);
    return taken_ms_;
  }
  [[nodiscard]] std::uint64_t edges() const { return edges_; }

 private:
  asio::awaitable<void> halts() {
    while (!station_.trouble().empty() || !board_.trouble().empty()) {
      co_await clock_.sleep_for(std::chrono::milliseconds(20));
    }
    const dcc::VehicleAddress address = dcc::VehicleAddress::short_form(engine_address);
    co_await station_.take(address);
    for (int number = 0; number < halts_; ++number) co_await halt_once();
  }
  asio::awaitable<void> halt_once() {
    GuardedRig guard(rig_, rig_, clock_, GuardLimits{});
    const auto executor = co_await asio::this_coro::executor;
    bool watched = true;  // as in the service: edges come to the guard first
    const auto over = [&watched](const std::exception_ptr&) { watched = false; };
    asio::co_spawn(executor, guard.watch(), over);
    co_await guard.power_up();
    const ThrottleCommand command{20, Direction::forward, StepMode::steps28};
    co_await guard.drive(command);
    const Instant until = clock_.now() + seconds(luck_.uniform(0.02, 0.06));
    while (clock_.now() < until) {  // as a procedure does
      const std::optional<GateEdge> edge = co_await guard.next_edge(until);
      if (edge) ++edges_;
    }
    hardware_.begin_anew();
    const Instant asked = clock_.now();
    guard.stop(Stop{StopReason::asked, "the bench asked"});
    co_await guard.make_safe();
    while (watched || !hardware_.both_came()) co_await clock_.sleep_for(std::chrono::milliseconds(1));
    taken_ms_.push_back(1000 * in_seconds(hardware_.last_byte() - asked));
  }

  Hardware& hardware_;
  int halts_;
  RealClock clock_;
  lcc::LccStation station_{station_settings(), clock_};
  trackside::Board board_{trackside::BoardWish{"QT-0001", board_settings, {1, 2}}, clock_};
  Link station_link_;
  Link board_link_{link_to("board", SerialAddress{hardware_.board_device()}), board_, clock_, nullptr};
  WiredRig rig_{station_, board_, &board_};
  simulated::Random luck_{7};
  std::uint64_t edges_ = 0;
  std::vector<double> taken_ms_;
  std::exception_ptr failure_;
  asio::io_context context_{1};  // goes first, with what still waits in it
};

}  // namespace
}  // namespace lapwright

constexpr double wanted_p99_ms = 50;

int main(int count, char** words) {
  const int halts = count > 1 ? std::atoi(words[1]) : 300;
  if (halts < 1) {
    std::fprintf(stderr, "how many halts? A number from 1\n");
    return 2;
  }
  lapwright::Hardware hardware;
  lapwright::Program program(hardware, halts);
  std::vector<double> taken_ms = program.run();
  std::sort(taken_ms.begin(), taken_ms.end());
  const auto at = [&](double share) { return taken_ms[static_cast<std::size_t>(share * (halts - 1))]; };
  std::printf(
      "%d halts under %d edges/s (%llu edges read): request to last byte, ms: median %.1f, p99 %.1f, worst %.1f\n",
      halts, lapwright::edges_per_s, static_cast<unsigned long long>(program.edges()), at(0.5), at(0.99),
      taken_ms.back());
  return at(0.99) < wanted_p99_ms ? 0 : 1;
}
