// Every fault switch of the served railway, seen by the real drivers at the other end of the wires.
#include "drivers/simulated/served/served_rig.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/test/unit_test.hpp>
#include <stdexcept>

#include "drivers/lcc/lcc_station.h"
#include "drivers/links/link.h"
#include "drivers/safety/guarded_rig.h"
#include "drivers/simulated/served/fault_switches.h"
#include "drivers/trackside/board.h"
#include "drivers/wired_rig.h"
#include "tests/temporary_folder.h"
#include "tuning/rig_fault.h"

using namespace lapwright;
namespace asio = boost::asio;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

simulated::ServedRigDescription works(const std::string& device, bool with_board) {
  simulated::ServedRigDescription rig;
  rig.name = "works";
  rig.railway.length_mm = 1000;
  rig.railway.start_mm = 200;
  rig.railway.gates = {Gate{"west", 400, 0.2}, Gate{"east", 550, 0.2}};
  rig.engine.name = "Rowan";
  rig.engine.address = 12;
  rig.engine.decoder.cvs = {{3, 0}, {4, 0}, {29, 2}};
  rig.station.address = 12;
  rig.station_place = TcpAddress{"127.0.0.1", 0};
  if (!with_board) return rig;
  rig.board.emplace();
  rig.board->place = SerialAddress{device};
  rig.board->identity.settings = {{"gates", "2"}, {"trip_mA", "2000"}};
  return rig;
}

LinkSettings quick(const std::string& name, LinkAddress address) {
  LinkSettings settings;
  settings.name = name;
  settings.address = std::move(address);
  settings.silence = name == "board" ? std::chrono::milliseconds(500) : Duration{};
  settings.first_retry = std::chrono::milliseconds(20);
  settings.longest_retry = std::chrono::milliseconds(80);
  return settings;
}

lcc::StationSettings station_settings() {
  lcc::StationSettings settings;
  settings.node.id = lcc::NodeId::parse("05.01.01.01.22.05").value();
  settings.cvs.reply_within = std::chrono::milliseconds(500);
  return settings;
}

/// The railway and, at its wires, the drivers that the service uses.
struct Served {
  explicit Served(bool with_board = true)
      : rig(works(device, with_board), context, [this](const std::string& what) { notes += what + "\n"; }) {
    rig.start(context);
    const std::string where = rig.where();
    const auto port = static_cast<std::uint16_t>(std::stoi(where.substr(where.find(':') + 1)));
    spawn(station.run());
    station_link.emplace(quick("station", TcpAddress{"127.0.0.1", port}), station.node(), clock, nullptr);
    spawn(station_link->run());
    spawn(board.run());
    spawn(vouch());
    board_link.emplace(quick("board", SerialAddress{device}), board, clock, nullptr);
    if (with_board) spawn(board_link->run());
    BOOST_REQUIRE(becomes([&] { return station.trouble().empty() && (!with_board || board.trouble().empty()); }));
  }
  ~Served() { shut(); }
  /// Ends whatever was spawned; whoever's work refers to what goes before this object calls it first.
  void shut() {
    over = true;
    station.stop();
    board.stop();
    station_link->stop();
    board_link->stop();
    rig.stop();
    context.restart();
    BOOST_TEST(becomes([&] { return at_work == 0; }));
    context.restart();
    context.run_for(std::chrono::seconds(1));  // what the railway itself has going
  }
  /// As a guard does.
  asio::awaitable<void> vouch() {
    while (!over) {
      board.vouch();
      co_await clock.sleep_for(std::chrono::milliseconds(10));
    }
  }
  void spawn(asio::awaitable<void> work) {
    ++at_work;
    asio::co_spawn(context, std::move(work), [this](const std::exception_ptr&) { --at_work; });
  }
  /// Runs until it holds, for a while.
  template <class Condition>
  bool becomes(Condition holds) {
    const Instant deadline = clock.now() + std::chrono::seconds(10);
    while (!holds() && clock.now() < deadline) context.run_one_for(std::chrono::milliseconds(5));
    return holds();
  }
  /// Runs an operation to its end. @return the fault's text, empty when there was none
  std::string fault_of(asio::awaitable<void> work) {
    std::optional<std::string> ended;
    asio::co_spawn(context, std::move(work), [&](const std::exception_ptr& failure) {
      ended = "";
      try {
        if (failure) std::rethrow_exception(failure);
      } catch (const RigFault& fault) {
        ended = fault.what();
      }
    });
    BOOST_REQUIRE(becomes([&] { return ended.has_value(); }));
    return *ended;
  }
  asio::awaitable<void> get_going(int step) {
    const dcc::VehicleAddress engine = dcc::VehicleAddress::short_form(12);
    co_await station.take(engine);
    co_await station.set_power(true);
    co_await board.set_power(true);
    const ThrottleCommand command{step, Direction::forward, StepMode::steps28};
    co_await station.drive(command);
  }
  double speed_mm_s() {
    const std::string status = rig.tell("status");
    return std::stod(status.substr(status.find("mm, ") + 4));
  }
  bool live() { return has(rig.tell("status"), "track live"); }

  int at_work = 0;
  bool over = false;
  TemporaryFolder folder;
  std::string device = (folder.path() / "board").string();
  std::string notes;
  asio::io_context context;
  RealClock clock;
  simulated::ServedRig rig;
  lcc::LccStation station{station_settings(), clock};
  trackside::Board board{trackside::BoardWish{"QT-0001", {{"gates", "2"}, {"trip_mA", "2000"}}, {1, 2}}, clock};
  std::optional<Link> station_link, board_link;
};

}  // namespace

BOOST_AUTO_TEST_SUITE(served_rig)

BOOST_AUTO_TEST_CASE(a_short_opens_the_relay) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(10)) == "");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() > 20; }));
  BOOST_TEST(served.rig.tell("short on") == "the rails are shorted");
  BOOST_TEST(served.becomes([&] { return !served.live(); }));
  BOOST_TEST(served.becomes([&] { return served.board.state() && served.board.state()->fault == 'c'; }));
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() == 0; }));
  served.rig.tell("short off");
  BOOST_TEST(has(served.fault_of(served.board.set_power(true)), "latched"));
  served.rig.tell("reset");
  BOOST_TEST(served.becomes([&] { return served.board.state() && served.board.state()->fault == '-'; }));
  BOOST_TEST(served.becomes([&] { return !has(served.board.trouble(), "has not told"); }));
  BOOST_TEST(served.fault_of(served.board.set_power(true)) == "");
  BOOST_TEST(served.live());
  BOOST_TEST(has(served.notes, "track dead at "));
}

BOOST_AUTO_TEST_CASE(an_engine_held_or_off_the_rails) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(10)) == "");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() > 20; }));
  const double free_mA = served.board.track_current_mA().value_or(0);
  served.rig.tell("stall on");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() == 0; }));
  BOOST_TEST(served.becomes([&] { return served.board.track_current_mA().value_or(0) > 1.5 * free_mA; }));
  served.rig.tell("stall off");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() > 20; }));
  served.rig.tell("derail on");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() == 0; }));
  BOOST_TEST(served.becomes([&] { return served.board.track_current_mA().value_or(99) < 10; }));
  served.rig.tell("derail off");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() > 20; }));
}

BOOST_AUTO_TEST_CASE(the_board_reset_or_stopped_by_hand) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(5)) == "");
  served.rig.tell("reset b");
  BOOST_TEST(!served.live());
  BOOST_TEST(served.becomes([&] { return has(served.board.trouble(), "reset"); }));  // heard of it, and knows it again
  BOOST_TEST(!served.live());
  BOOST_TEST(served.fault_of(served.board.set_power(true)) == "");
  BOOST_TEST(served.live());
  served.rig.tell("button down");
  BOOST_TEST(served.becomes([&] { return !served.live(); }));
  BOOST_TEST(served.fault_of(served.board.set_power(true)) != "");
  served.rig.tell("button up");
  served.rig.tell("reset");
  BOOST_TEST(served.becomes([&] { return served.board.state() && served.board.state()->fault == '-'; }));
  BOOST_TEST(served.becomes([&] { return !has(served.board.trouble(), "has not told"); }));
  BOOST_TEST(served.fault_of(served.board.set_power(true)) == "");
}

BOOST_AUTO_TEST_CASE(links_go_and_come_and_nothing_moves_by_itself) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(5)) == "");
  BOOST_TEST(served.rig.tell("unplug board 0.6") == "board unplugged");
  BOOST_TEST(served.becomes([&] { return !served.board_link->health().up; }));
  BOOST_TEST(served.becomes([&] { return !served.live(); }));  // by the lease
  BOOST_TEST(served.becomes([&] { return served.board_link->health().openings == 2; }));
  BOOST_TEST(served.becomes([&] { return served.board.state().has_value(); }));
  BOOST_TEST(!served.live());
  served.rig.tell("unplug station");
  BOOST_TEST(served.becomes([&] { return !served.station_link->health().up; }));
  served.rig.tell("plug station");
  BOOST_TEST(served.becomes([&] { return served.station.trouble().empty(); }));
  BOOST_TEST(served.station_link->health().openings == 2);
  served.rig.tell("mute board 0.7");
  BOOST_TEST(served.becomes([&] { return !served.board.state(); }));
  BOOST_TEST(has(served.board.trouble(), "silent"));
  BOOST_TEST(served.becomes([&] { return served.board.state().has_value(); }));
  BOOST_TEST(has(served.notes, "board unmuted"));
}

/// Stations make a train for whatever address is asked for; that there is an engine shows on the track only.
BOOST_AUTO_TEST_CASE(a_train_whose_engine_is_elsewhere) {
  Served served;
  const ThrottleCommand command{10, Direction::forward, StepMode::steps28};
  std::optional<std::uint8_t> value = 0;
  const auto drive_the_other = [&]() -> asio::awaitable<void> {
    const dcc::VehicleAddress other = dcc::VehicleAddress::long_form(2207);
    co_await served.station.take(other);
    co_await served.station.set_power(true);
    co_await served.board.set_power(true);
    value = co_await served.station.read_cv(29);
    co_await served.station.drive(command);
  };
  BOOST_TEST(served.fault_of(drive_the_other()) == "");
  BOOST_TEST(!value.has_value());
  served.context.run_for(std::chrono::milliseconds(300));
  BOOST_TEST(served.speed_mm_s() == 0);
  BOOST_TEST(served.fault_of(served.get_going(10)) == "");
  BOOST_TEST(served.becomes([&] { return served.speed_mm_s() > 20; }));
}

/// With a guard that makes the track dead, as the service has it; nobody asks anything of the station meanwhile.
struct Guarded : Served {
  Guarded() {
    const dcc::VehicleAddress engine = dcc::VehicleAddress::short_form(12);
    BOOST_REQUIRE(fault_of(station.take(engine)) == "");
    spawn(guard.watch());
    BOOST_REQUIRE(fault_of(guard.power_up()) == "");
    const ThrottleCommand command{10, Direction::forward, StepMode::steps28};
    BOOST_REQUIRE(fault_of(guard.drive(command)) == "");
    BOOST_REQUIRE(becomes([&] { return speed_mm_s() > 20; }));
  }
  ~Guarded() { shut(); }
  /// Seconds until the rails are dead, by the railway's own knowledge.
  double dead_after_s() {
    const Instant begun = clock.now();
    BOOST_TEST(becomes([&] { return !live(); }));
    return in_seconds(clock.now() - begun);
  }

  WiredRig wired{station, board, &board};
  GuardedRig guard{wired, wired, clock, GuardLimits{}};
};

BOOST_AUTO_TEST_CASE(a_running_engine_whose_station_hangs_up) {
  Guarded served;
  served.rig.tell("unplug station");
  BOOST_TEST(served.dead_after_s() <= 0.3);
  BOOST_REQUIRE(served.guard.stopped().has_value());
  BOOST_TEST(has(served.guard.stopped()->sentence, "hang-up"));
  served.rig.tell("plug station");
  BOOST_TEST(served.becomes([&] { return served.station.trouble().empty(); }));
  BOOST_TEST(!served.live());  // nothing resumes by itself
}

BOOST_AUTO_TEST_CASE(a_running_engine_whose_station_falls_silent) {
  Guarded served;
  BOOST_TEST(!served.guard.stopped().has_value());
  served.rig.tell("mute station");  // the connection stays
  BOOST_TEST(served.dead_after_s() <= 1.0);
  BOOST_REQUIRE(served.guard.stopped().has_value());
  BOOST_TEST(has(served.guard.stopped()->sentence, "said nothing of the engine"));
  BOOST_TEST(served.becomes([&] { return !served.station_link->health().up; }));
}

BOOST_AUTO_TEST_CASE(a_running_engine_whose_board_resets_or_goes) {
  for (const std::string fault : {"reset b", "unplug board", "mute board"}) {
    Guarded served;
    served.rig.tell(fault);
    BOOST_TEST(served.dead_after_s() <= 0.5, fault);
    BOOST_TEST(served.becomes([&] { return served.guard.stopped().has_value(); }), fault);
  }
}

BOOST_AUTO_TEST_CASE(noise_on_the_line_is_survived) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(5)) == "");
  const std::uint64_t before = served.board.lines().bad;
  served.rig.tell("garbage board 300");
  served.rig.tell("garbage station 300");
  BOOST_TEST(served.becomes([&] { return served.board.lines().bad > before; }));
  const ThrottleCommand slower{3, Direction::forward, StepMode::steps28};
  BOOST_TEST(served.fault_of(served.station.drive(slower)) == "");
  BOOST_TEST(served.live());
}

BOOST_AUTO_TEST_CASE(ghosts_and_lost_edges) {
  Served served;
  std::optional<GateEdge> edge;
  const auto listen = [&]() -> asio::awaitable<void> {
    const Instant soon = served.clock.now() + std::chrono::milliseconds(300);
    edge = co_await served.board.next_edge(soon);
  };
  served.rig.tell("ghost 2");
  BOOST_TEST(served.fault_of(listen()) == "");
  BOOST_REQUIRE(edge.has_value());
  BOOST_TEST(edge->gate == 1);
  BOOST_TEST(edge->blocked);
  BOOST_TEST(served.fault_of(listen()) == "");
  BOOST_REQUIRE(edge.has_value());
  BOOST_TEST(!edge->blocked);
  served.rig.tell("lose 2");
  served.rig.tell("ghost 1");
  BOOST_TEST(served.fault_of(listen()) == "");
  BOOST_TEST(!edge.has_value());
}

BOOST_AUTO_TEST_CASE(a_silent_station) {
  Served served;
  BOOST_TEST(served.fault_of(served.get_going(5)) == "");
  served.rig.tell("silence on");
  const auto read = [&]() -> asio::awaitable<void> {
    const std::optional<std::uint8_t> value = co_await served.station.read_cv(8);
    BOOST_TEST(!value.has_value());
  };
  BOOST_TEST(served.fault_of(read()) != "");
  served.rig.tell("silence off");
}

BOOST_AUTO_TEST_CASE(what_is_not_possible_is_refused_with_what_would_be) {
  Served served(false);
  const auto refused = [&](const std::string& words, const std::string& why) {
    BOOST_CHECK_EXCEPTION(served.rig.tell(words), std::invalid_argument,
                          [&](const std::invalid_argument& said) { return has(said.what(), why); });
  };
  refused("reset", "this rig has no board");
  refused("button down", "this rig has no board");
  refused("unplug board", "this rig has no board");
  refused("unplug roof", "there are \"station\" and \"board\"");
  refused("short", "on or off");
  refused("short maybe", "neither on nor off");
  refused("ghost 3", "there are 2");
  refused("lose some", "not a number of edges");
  refused("unplug station -1", "not a number of seconds");
  refused("unplug station 1 2", "fewer words");
  refused("explode", "there are unplug LINK");
  refused("", "not understood");
}

BOOST_AUTO_TEST_SUITE_END()
