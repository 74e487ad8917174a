// The real service, in real time, as a person and the system handle it: status, SIGTERM, halt, a second instance.
#include <boost/test/unit_test.hpp>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <thread>

#include "daemon/control_link.h"
#include "daemon/exit_codes.h"
#include "tests/notify_socket.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double start_limit_s = 10;
constexpr double end_limit_s = 20;
constexpr int answer_limit_ms = 5000;

/// A folder of its own with the control socket, the reports and what the programs write.
struct Workshop {
  Workshop() {
    fs::copy(LAPWRIGHT_CONFIGS, folder / "configs",
             fs::copy_options::recursive);  // reports go beside the configuration
    std::ifstream in(configuration);
    nlohmann::json json = nlohmann::json::parse(in);
    json["limits"]["late_s"] = 1;  // these tests run under the sanitizers, too
    std::ofstream(configuration) << json;
  }

  [[nodiscard]] std::vector<std::string> arguments() const {
    return {"--config", configuration.string(), "--socket", socket.string()};
  }
  /// Asks in JSON, as the client does.
  [[nodiscard]] nlohmann::json ask(const std::string& what) const {
    ControlLink link(socket);
    link.send(R"({"ask":")" + what + R"("})");
    return nlohmann::json::parse(link.receive(answer_limit_ms).value());
  }

  TemporaryFolder own;
  const fs::path folder = own.path();
  const fs::path socket = folder / "control.sock";
  const fs::path configuration = folder / "configs/demo.json";
};

const fs::path daemon_program = LAPWRIGHT_PROGRAMS "/lapwrightd";
const fs::path client_program = LAPWRIGHT_PROGRAMS "/lapwright";

BOOST_FIXTURE_TEST_SUITE(service, Workshop)

BOOST_AUTO_TEST_CASE(works_until_sigterm_and_leaves_a_dead_track) {
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
  const nlohmann::json status = ask("status");
  BOOST_TEST(status["state"] == "working");
  BOOST_TEST(status["engine"]["number"] == 1);

  Process second(daemon_program, arguments(), folder / "second.log");
  BOOST_TEST(second.wait(start_limit_s).value() == exit_in_use);
  BOOST_TEST(second.output().find("state/demo is in use by process ") != std::string::npos, second.output());
  BOOST_TEST(second.output().find("(lapwrightd)") != std::string::npos, second.output());
  const fs::path other = folder / "configs/other.json";  // with a state folder of its own
  fs::copy_file(configuration, other);
  Process third(daemon_program, {"--config", other.string(), "--socket", socket.string()}, folder / "third.log");
  BOOST_TEST(third.wait(start_limit_s).value() == exit_in_use);
  BOOST_TEST(third.output().find(socket.string()) != std::string::npos, third.output());

  Process client(client_program, {"status", "--socket", socket.string()}, folder / "client.log");
  BOOST_TEST(client.wait(start_limit_s).value() == exit_ok);
  BOOST_TEST(client.output().find("Quillmoor & Tarn Light Railway: working") == 0U, client.output());

  daemon.signal(SIGTERM);
  const auto ended = daemon.wait(end_limit_s);
  BOOST_REQUIRE_MESSAGE(ended.has_value(), "SIGTERM did not end it: " << daemon.output());
  BOOST_TEST(*ended == exit_ok, daemon.output());
  BOOST_TEST(daemon.output().find("stopped: engine halted, track power off") != std::string::npos, daemon.output());
  BOOST_TEST(!fs::exists(socket));
}

// sd_notify(3): ready once the control socket answers; alive twice in each period that the manager allows.
BOOST_AUTO_TEST_CASE(tells_its_manager_that_it_is_ready_alive_and_stopping) {
  const std::string name = (folder / "notify").string();
  const NotifySocket manager(name);
  ::setenv("NOTIFY_SOCKET", name.c_str(), 1);
  ::setenv("WATCHDOG_USEC", "200000", 1);
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  ::unsetenv("NOTIFY_SOCKET");
  ::unsetenv("WATCHDOG_USEC");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
  std::map<std::string, int> words;
  const auto listen = [&] {
    for (std::string word = manager.heard(); !word.empty(); word = manager.heard()) ++words[word];
  };
  for (int part = 0; part < 100; ++part) {  // the socket holds few words
    listen();
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  BOOST_TEST(ask("status")["state"] == "working");
  daemon.signal(SIGTERM);
  BOOST_REQUIRE(daemon.wait(end_limit_s).has_value());
  listen();
  BOOST_TEST(words["READY=1"] == 1);
  BOOST_TEST(words["STATUS=working"] >= 1);
  BOOST_TEST(words["WATCHDOG=1"] >= 8);
  BOOST_TEST(words["STOPPING=1"] == 1);
}

// A terminal that is closed takes the service with it, in order; unless whoever began it said that it is to stay.
BOOST_AUTO_TEST_CASE(a_closed_terminal_ends_it_in_order) {
  {
    Process daemon(daemon_program, arguments(), folder / "daemon.log");
    BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
    daemon.signal(SIGHUP);
    BOOST_TEST(daemon.wait(end_limit_s).value() == exit_ok, daemon.output());
    BOOST_TEST(daemon.output().find("SIGHUP: stopping in order") != std::string::npos, daemon.output());
  }
  std::vector<std::string> words = arguments();
  words.insert(words.begin(), daemon_program.string());
  Process stays("/usr/bin/nohup", words, folder / "nohup.log");
  BOOST_REQUIRE_MESSAGE(stays.wrote("engine 1 of 3", start_limit_s), stays.output());
  stays.signal(SIGHUP);
  BOOST_TEST(!stays.wait(1).has_value(), stays.output());
  BOOST_TEST(ask("status")["state"] == "working");
  stays.signal(SIGQUIT);
  BOOST_TEST(stays.wait(end_limit_s).value() == exit_ok, stays.output());
}

BOOST_AUTO_TEST_CASE(halts_for_a_person_and_stays_dead) {
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
  Process client(client_program, {"halt", "--socket", socket.string()}, folder / "client.log");
  BOOST_TEST(client.wait(start_limit_s).value() == exit_ok);
  BOOST_TEST(client.output() == "the engine is halted and the track is dead\n");
  BOOST_TEST(daemon.wrote("tripped: ", end_limit_s), daemon.output());
  const nlohmann::json status = ask("status");
  BOOST_TEST(status["state"] == "dead");
  BOOST_TEST(status["done"].size() == 1U);  // it does not go on with the next engine

  daemon.signal(SIGTERM);
  const bool debts = !status["done"][0]["owed"].empty();  // nothing could be written back on a dead track
  BOOST_TEST(daemon.wait(end_limit_s).value() == (debts ? exit_needs_person : exit_ok), daemon.output());
}

BOOST_AUTO_TEST_CASE(what_tripped_waits_for_a_person_also_after_a_restart) {
  const auto client = [&](const char* word) {
    Process asking(client_program, {word, "--socket", socket.string()}, folder / "client.log");
    return asking.wait(start_limit_s).value();
  };
  {
    Process daemon(daemon_program, arguments(), folder / "daemon.log");
    BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
    BOOST_TEST(client("clear") == exit_needs_person);  // nothing to clear
    BOOST_TEST(client("halt") == exit_ok);
    BOOST_REQUIRE_MESSAGE(daemon.wrote("tripped: ", end_limit_s), daemon.output());
    daemon.signal(SIGTERM);
    BOOST_TEST(daemon.wait(end_limit_s).has_value());
  }
  std::vector<std::string> once = arguments();
  once.emplace_back("--once");
  Process refusing(daemon_program, once, folder / "refusing.log");
  BOOST_TEST(refusing.wait(end_limit_s).value() == exit_needs_person, refusing.output());
  BOOST_TEST(refusing.output().find("asked to make the track dead") != std::string::npos, refusing.output());
  BOOST_TEST(refusing.output().find("engine 1 of 3") == std::string::npos, refusing.output());

  Process daemon(daemon_program, arguments(), folder / "again.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("tripped: ", start_limit_s), daemon.output());
  BOOST_TEST(ask("status")["state"] == "dead");
  BOOST_TEST(client("doctor") == exit_needs_person);
  BOOST_TEST(daemon.output().find("engine 1 of 3") == std::string::npos, daemon.output());
  BOOST_TEST(client("clear") == exit_ok);
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
  BOOST_TEST(ask("status")["state"] == "working");
  BOOST_TEST(client("doctor") == exit_ok);
  daemon.signal(SIGTERM);
  BOOST_TEST(daemon.wait(end_limit_s).has_value());
}

BOOST_AUTO_TEST_CASE(nothing_runs_that_could_not_be_kept) {
  std::ofstream(folder / "configs/state") << "a file where the state's folder has to be";
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  BOOST_TEST(daemon.wait(end_limit_s).value() == exit_not_made, daemon.output());
  BOOST_TEST(daemon.output().find("state/demo can't be made") != std::string::npos, daemon.output());
  BOOST_TEST(daemon.output().find("check that its folder is one") != std::string::npos, daemon.output());
  BOOST_TEST(daemon.output().find("engine 1 of 3") == std::string::npos, daemon.output());
}

BOOST_AUTO_TEST_CASE(a_second_sigterm_is_not_waited_for) {
  Process daemon(daemon_program, arguments(), folder / "daemon.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 1 of 3", start_limit_s), daemon.output());
  daemon.signal(SIGTERM);
  BOOST_REQUIRE_MESSAGE(daemon.wrote("SIGTERM: stopping in order", start_limit_s), daemon.output());
  daemon.signal(SIGTERM);
  BOOST_TEST(daemon.wait(end_limit_s).has_value(), daemon.output());
  BOOST_TEST(daemon.output().find("stopped: engine halted, track power off") != std::string::npos, daemon.output());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
