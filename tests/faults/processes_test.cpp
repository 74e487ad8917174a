// Faults of real processes and real byte streams while an engine runs: how long until its rails are dead, by the
// railway's own knowledge. The bounds are those of the house, which leave the trackside board 400 ms of lease; a loaded
// machine may take a little longer, and the lines below say what was measured.
#include <boost/test/unit_test.hpp>
#include <csignal>

#include "daemon/exit_codes.h"
#include "tests/faults/benches.h"

namespace lapwright {
namespace {

const std::filesystem::path client_program = LAPWRIGHT_PROGRAMS "/lapwright";

struct FaultyBenches : Benches {
  /// Asserts the bound, and that the engine stands afterwards.
  void check_dead(const std::string& name, double since_s, double bound_s) {
    const std::optional<double> after_s = dead_after_s(name, since_s, bound_s + 5);
    BOOST_REQUIRE_MESSAGE(after_s.has_value(), name << ": the rails stay live; " << status(name) << "\n"
                                                    << service(name).output());
    BOOST_TEST_MESSAGE(name << ": dead after " << 1000 * *after_s << " ms");
    BOOST_TEST(*after_s <= bound_s, name);
    BOOST_TEST(comes_to_rest(name), name);
  }
  /// The report of the engine that was being tuned, written whole, names the reason, or one of several.
  void check_stored(const std::string& name, const std::string& reason) {
    BOOST_REQUIRE_MESSAGE(service(name).wrote("tripped: ", 15), service(name).output());
    const nlohmann::json left = report(name);
    const std::string told = left["outcome"]["stop"]["code"];
    BOOST_TEST(reason.find(told) != std::string::npos, left.dump());
    BOOST_TEST(status(name).find("track dead") != std::string::npos);
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(faults, FaultyBenches)

BOOST_AUTO_TEST_CASE(of_the_service) {
  start("bench", {"killed", "frozen", "halted"});
  double since_s = mark("killed");
  service("killed").signal(SIGKILL);
  check_dead("killed", since_s, 0.5);

  since_s = mark("frozen");
  service("frozen").signal(SIGSTOP);
  check_dead("frozen", since_s, 0.5);
  service("frozen").signal(SIGCONT);
  check_stored("frozen", "rig-lost or host-late");

  since_s = mark("halted");
  Process client(client_program, {"halt", "--socket", file("halted.sock").string()}, file("halt.log"));
  BOOST_TEST(client.wait(10).value() == exit_ok, client.output());
  check_dead("halted", since_s, 0.15);
  check_stored("halted", "stop-asked");
}

BOOST_AUTO_TEST_CASE(of_the_board_and_its_link) {
  start("bench", {"board-unplugged", "board-muted", "board-reset", "flooded"});
  check_dead("board-unplugged", fault("board-unplugged", "unplug board"), 0.5);
  check_dead("board-muted", fault("board-muted", "mute board"), 0.5);
  check_dead("board-reset", fault("board-reset", "reset b"), 0.02);
  // Twenty lines of a hundred can't be read: the link is as good as lost.
  check_dead("flooded", fault("flooded", "garbage board 100000"), 0.5);
  for (const std::string name : {"board-unplugged", "board-muted", "board-reset", "flooded"}) {
    check_stored(name, "rig-lost");
  }
}

BOOST_AUTO_TEST_CASE(of_the_station_and_on_the_track) {
  start("bench", {"station-unplugged", "station-muted", "shorted", "button"});
  check_dead("station-unplugged", fault("station-unplugged", "unplug station"), 0.3);
  check_dead("station-muted", fault("station-muted", "mute station"), 1.0);
  check_dead("shorted", fault("shorted", "short on"), 0.02);
  check_dead("button", fault("button", "button down"), 0.05);
  check_stored("station-unplugged", "rig-lost");
  check_stored("station-muted", "rig-lost");
  check_stored("shorted", "over-current");
  check_stored("button", "stop-asked");
}

// Without a trackside board nothing opens the feed when the service dies: the README says so, and this is how it goes.
// The next service makes the track dead before anything else.
BOOST_AUTO_TEST_CASE(an_engine_left_running_is_stopped_by_the_next_service) {
  start("bus", {"left"});
  service("left").signal(SIGKILL);
  BOOST_TEST(service("left").wait(5).has_value());
  const double left_s = mark("left");
  BOOST_TEST(!dead_after_s("left", left_s, 1).has_value());
  BOOST_TEST(speed_mm_s("left") > 20);
  const double again_s = mark("left");
  start_again("left");
  check_dead("left", again_s, 2);
}

BOOST_AUTO_TEST_CASE(what_is_not_in_order_before_the_run_keeps_the_track_dead) {
  serve_loops("bench", {"welded", "sound"});
  fault("welded", "weld on");
  start_again("welded");
  BOOST_TEST(service("welded").wrote("The relay is welded, or something bridges it", 15), service("welded").output());
  BOOST_TEST(status("welded").find("0.0 mm/s") != std::string::npos);
  BOOST_TEST(status("welded").find("track dead") != std::string::npos, status("welded"));  // by the station
  const auto doctor = [&](const std::string& name) {
    auto asked = std::make_unique<Process>(
        client_program, std::vector<std::string>{"doctor", "--socket", file(name + ".sock").string()},
        file(name + "-doctor.log"));
    BOOST_REQUIRE(asked->wait(10).has_value());
    return asked;
  };
  const auto ill = doctor("welded");
  BOOST_TEST(ill->wait(0).value() == exit_needs_person);
  BOOST_TEST(ill->output().find("failed  relay") != std::string::npos, ill->output());
  start_again("sound");
  BOOST_REQUIRE(service("sound").wrote("preparing the decoder", 15));
  const auto well = doctor("sound");
  BOOST_TEST(well->wait(0).value() == exit_ok, well->output());
  for (const std::string line : {"ok      station ", "ok      board ", "ok      current sensor", "ok      relay "}) {
    BOOST_TEST(well->output().find(line) != std::string::npos, well->output());
  }
}

// Whoever reports them on the bus is asked before the run.
BOOST_AUTO_TEST_CASE(with_something_in_a_gate_on_the_bus_no_engine_is_run) {
  serve_loops("bus", {"barred"});
  fault("barred", "block 2 on");
  start_again("barred");
  BOOST_TEST(service("barred").wrote("the check before the run: gate 2 on the bus: something stands in the beam", 15),
             service("barred").output());
  BOOST_TEST(speed_mm_s("barred") == 0);
}

BOOST_AUTO_TEST_CASE(with_something_in_a_gate_no_engine_is_run) {
  serve_loops("bench", {"blocked"});
  fault("blocked", "block 1 on");
  start_again("blocked");
  BOOST_TEST(
      service("blocked").wrote("the check before the run: gate 1 of the board: something stands in the beam", 15),
      service("blocked").output());
  BOOST_TEST(status("blocked").find("track dead") != std::string::npos);
  BOOST_TEST(rig_output().find("blocked: track live") == std::string::npos);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
