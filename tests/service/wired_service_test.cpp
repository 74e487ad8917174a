// The real service with a rig on wires: nothing plugged in is waited for, and a device that another holds is refused.
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/exit_codes.h"
#include "drivers/simulated/served/pseudo_terminal.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double start_limit_s = 10;
constexpr double end_limit_s = 20;
const fs::path daemon_program = LAPWRIGHT_PROGRAMS "/lapwrightd";

/// The demo's configuration with another rig: a station that is not there, and a board at a device of the folder.
struct Bench {
  Bench() {
    fs::copy(LAPWRIGHT_CONFIGS, folder / "configs", fs::copy_options::recursive);
    std::ifstream demo(folder / "configs/demo.json");
    nlohmann::json json = nlohmann::json::parse(demo);
    json["rig"] = nlohmann::json::parse(R"({"kind": "wired",
      "station": {"kind": "lcc", "link": {"host": "127.0.0.1", "port": 1}, "node_id": "05.01.01.01.22.01"},
      "board": {"serial": "QT-0001", "gates": [1, 2], "settings": {"gates": "2"}}})");
    json["rig"]["board"]["link"]["device"] = (folder / "board").string();
    std::ofstream(folder / "configs/wired.json") << json;
  }
  [[nodiscard]] std::vector<std::string> arguments() const {
    return {"--config", (folder / "configs/wired.json").string(), "--socket", (folder / "control.sock").string()};
  }
  TemporaryFolder own;
  const fs::path folder = own.path();
};

BOOST_FIXTURE_TEST_SUITE(wired_service, Bench)

BOOST_AUTO_TEST_CASE(nothing_plugged_in_is_waited_for_and_a_signal_ends_the_wait) {
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("waiting for hardware: station: 127.0.0.1:1: Connection refused", start_limit_s),
                        daemon.output());
  daemon.signal(SIGTERM);
  const auto ended = daemon.wait(end_limit_s);
  BOOST_REQUIRE_MESSAGE(ended.has_value(), "SIGTERM did not end it: " << daemon.output());
  BOOST_TEST(*ended == exit_ok, daemon.output());
}

BOOST_AUTO_TEST_CASE(a_device_that_another_program_holds) {
  boost::asio::io_context context;
  const simulated::PseudoTerminal device(context.get_executor(), folder / "board");
  const int holder = ::open(device.device().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  BOOST_REQUIRE(::flock(holder, LOCK_EX | LOCK_NB) == 0);
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  const auto ended = daemon.wait(end_limit_s);
  BOOST_REQUIRE_MESSAGE(ended.has_value(), "it did not end: " << daemon.output());
  BOOST_TEST(*ended == exit_in_use, daemon.output());
  BOOST_TEST(daemon.output().find("in use by process " + std::to_string(::getpid())) != std::string::npos,
             daemon.output());
  ::close(holder);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
