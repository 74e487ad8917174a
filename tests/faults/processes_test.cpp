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
    BOOST_REQUIRE_MESSAGE(after_s.has_value(), name << ": the rails stay live");
    BOOST_TEST_MESSAGE(name << ": dead after " << 1000 * *after_s << " ms");
    BOOST_TEST(*after_s <= bound_s, name);
    BOOST_TEST(comes_to_rest(name), name);
  }
  /// The report of the engine that was being tuned, written whole, names the reason.
  void check_stored(const std::string& name, const std::string& reason) {
    BOOST_REQUIRE_MESSAGE(service(name).wrote("a stop has latched", 15), service(name).output());
    const nlohmann::json left = report(name);
    BOOST_TEST(left["outcome"]["stop"]["code"] == reason, left.dump());
    BOOST_TEST(status(name).find("track dead") != std::string::npos);
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(faults, FaultyBenches)

BOOST_AUTO_TEST_CASE(of_processes_and_links_while_an_engine_runs) {
  start({"killed", "frozen", "board-unplugged", "board-muted", "station-unplugged", "station-muted", "shorted",
         "board-reset", "button", "halted", "flooded"});

  double since_s = mark("killed");
  service("killed").signal(SIGKILL);
  check_dead("killed", since_s, 0.5);

  since_s = mark("frozen");
  service("frozen").signal(SIGSTOP);
  check_dead("frozen", since_s, 0.5);
  service("frozen").signal(SIGCONT);
  check_stored("frozen", "rig-lost");

  check_dead("board-unplugged", fault("board-unplugged", "unplug board"), 0.5);
  check_stored("board-unplugged", "rig-lost");
  check_dead("board-muted", fault("board-muted", "mute board"), 0.5);
  check_stored("board-muted", "rig-lost");
  check_dead("station-unplugged", fault("station-unplugged", "unplug station"), 0.3);
  check_stored("station-unplugged", "rig-lost");
  check_dead("station-muted", fault("station-muted", "mute station"), 1.0);
  check_stored("station-muted", "rig-lost");
  check_dead("shorted", fault("shorted", "short on"), 0.02);
  check_stored("shorted", "rig-lost");
  check_dead("board-reset", fault("board-reset", "reset b"), 0.02);
  check_stored("board-reset", "rig-lost");
  check_dead("button", fault("button", "button down"), 0.05);
  check_stored("button", "rig-lost");

  since_s = mark("halted");
  Process client(client_program, {"halt", "--socket", file("halted.sock").string()}, file("halt.log"));
  BOOST_TEST(client.wait(10).value() == exit_ok, client.output());
  check_dead("halted", since_s, 0.15);
  check_stored("halted", "stop-asked");

  since_s = fault("flooded", "garbage board 100000");
  check_dead("flooded", since_s, 1.0);  // twenty lines of a hundred can't be read: the link is as good as lost
  check_stored("flooded", "rig-lost");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
