// The queue of a running service, as people handle it with the client: what is asked stands after a restart, too.
#include <boost/test/unit_test.hpp>
#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/exit_codes.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

constexpr double queue_limit_s = 10;

/// A service whose shift is empty, and whose fleet has the demo's three engines.
struct QueueDepot {
  QueueDepot() {
    std::filesystem::copy(LAPWRIGHT_CONFIGS, folder / "configs", std::filesystem::copy_options::recursive);
    std::ifstream in(configuration);
    nlohmann::json json = nlohmann::json::parse(in);
    json["fleet"] = json["shift"];
    json.erase("shift");
    json["limits"]["late_s"] = 1;  // these tests run under the sanitizers, too
    std::ofstream(configuration) << json;
  }
  /// What the client printed.
  std::string client(std::vector<std::string> words, int expected) {
    words.insert(words.end(), {"--socket", (folder / "control.sock").string()});
    Process run(LAPWRIGHT_PROGRAMS "/lapwright", words, folder / ("client" + std::to_string(++clients) + ".log"));
    const int code = run.wait(queue_limit_s).value_or(-1);
    BOOST_TEST(code == expected, words.front() << " " << words[1] << ": " << code << "\n" << run.output());
    return run.output();
  }
  [[nodiscard]] std::vector<std::string> service() const {
    return {"--config", configuration.string(), "--socket", (folder / "control.sock").string()};
  }

  TemporaryFolder own;
  const std::filesystem::path folder = own.path();
  const std::filesystem::path configuration = folder / "configs/demo.json";
  int clients = 0;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(queue_service, QueueDepot)

BOOST_AUTO_TEST_CASE(what_people_ask_stands_after_a_restart) {
  {
    Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd", service(), folder / "first.log");
    BOOST_REQUIRE_MESSAGE(daemon.wrote("the shift is over", queue_limit_s), daemon.output());
    BOOST_TEST(client({"queue"}, exit_ok) == "nobody waits\n");
    client({"queue", "pause"}, exit_ok);
    BOOST_TEST(client({"queue", "add", "fellbeck_7", "Thunder Gill no. 21"}, exit_needs_person).find("Thunder Gill") !=
               std::string::npos);
    client({"queue", "add", "fellbeck_7", "tarn_lady_3"}, exit_ok);
    client({"check", "tarn_lady_3"}, exit_ok);
    client({"queue", "move", "3", "1"}, exit_ok);
    client({"queue", "cancel", "1"}, exit_ok);
    BOOST_TEST(client({"queue", "cancel", "1"}, exit_needs_person) == "no entry 1 waits; see lapwright queue\n");
    BOOST_TEST(client({"ready"}, exit_needs_person) == "no engine is waited for\n");
    daemon.signal(SIGKILL);
    BOOST_TEST(daemon.wait(queue_limit_s).has_value());
  }
  Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd", service(), folder / "second.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("paused; go on with: lapwright queue resume", queue_limit_s), daemon.output());
  const std::string text = client({"queue"}, exit_ok);
  BOOST_TEST(text.find("   1  Fellbeck no. 7          tune     cancelled by a person\n"
                       "   3  Tarn Lady no. 3         check    sheet \"Notched freight\"\n"
                       "   2  Tarn Lady no. 3         tune     sheet \"Notched freight\"\n"
                       "paused; go on with: lapwright queue resume\n") == 0U,
             text);
  client({"queue", "resume"}, exit_ok);
  BOOST_REQUIRE_MESSAGE(daemon.wrote("engine 2 of 3: Tarn Lady no. 3", queue_limit_s), daemon.output());
  client({"queue", "pause", "--now"}, exit_ok);
  BOOST_REQUIRE_MESSAGE(daemon.wrote("Broken off on request", queue_limit_s), daemon.output());
  BOOST_TEST(client({"status"}, exit_ok).find("idle, paused; go on with") != std::string::npos);
  daemon.signal(SIGTERM);
  BOOST_TEST(daemon.wait(queue_limit_s).value_or(-1) == exit_ok, daemon.output());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
