// The owner's hooks with the real service: told of a shift before the process ends, and of a trip.
#include <boost/test/unit_test.hpp>
#include <csignal>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "daemon/exit_codes.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double once_limit_s = 30;

/// The night's configuration, with a hook that keeps what it is told, and the owner's record made short.
struct BellRope {
  BellRope() {
    fs::copy(LAPWRIGHT_CONFIGS, folder / "configs", fs::copy_options::recursive);
    std::ofstream(folder / "configs/note.sh") << "#!/bin/sh\ncat >>\"$1\"\n";
    fs::permissions(folder / "configs/note.sh", fs::perms::owner_all);
    nlohmann::json json = nlohmann::json::parse(std::ifstream(configuration));
    json["limits"]["late_s"] = 1;  // these tests run under the sanitizers, too
    json["hooks"] = {{"on_finish", {"note.sh", (folder / "finished").string()}},
                     {"on_trip", {"note.sh", (folder / "tripped").string()}}};
    std::ofstream(configuration) << json;
  }
  /// Momentum that nobody knows ends the work on the engine before it moves.
  void forget_momentum() const {
    const fs::path file = folder / "configs/records/fellbeck.json";
    nlohmann::json record = nlohmann::json::parse(std::ifstream(file));
    record.erase("cvs");
    std::ofstream(file) << record;
  }
  [[nodiscard]] std::vector<std::string> arguments(const std::vector<std::string>& more) const {
    std::vector<std::string> all = {"--config", configuration.string(), "--socket", socket.string()};
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }
  [[nodiscard]] std::vector<nlohmann::json> told(const char* file) const {
    std::vector<nlohmann::json> documents;
    std::ifstream in(folder / file);
    for (std::string line; std::getline(in, line);) documents.push_back(nlohmann::json::parse(line));
    return documents;
  }

  TemporaryFolder own;
  const fs::path folder = own.path();
  const fs::path socket = folder / "control.sock";
  const fs::path configuration = folder / "configs/night.json";
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(hooks_of_the_service, BellRope)

BOOST_AUTO_TEST_CASE(a_shift_that_was_asked_for_once_is_told_before_the_process_ends) {
  forget_momentum();
  Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd", arguments({"--once"}), folder / "daemon.log");
  const auto ended = daemon.wait(once_limit_s);
  BOOST_REQUIRE_MESSAGE(ended.has_value(), daemon.output());
  BOOST_TEST(*ended == exit_needs_person, daemon.output());
  const auto documents = told("finished");
  BOOST_REQUIRE_MESSAGE(documents.size() == 2U, daemon.output());
  BOOST_TEST(documents[0]["event"] == "engine");
  BOOST_TEST(documents[0]["title"] == "Fellbeck no. 7");
  BOOST_TEST(documents[0]["needs_person"] == true);
  for (const nlohmann::json& report : documents[0]["reports"])
    BOOST_TEST(fs::exists(report.get<std::string>()), report);
  BOOST_TEST(documents[1]["event"] == "shift");
  BOOST_TEST(documents[1]["through"] == true);
  BOOST_TEST(fs::exists(documents[1]["reports"][0].get<std::string>()));
  BOOST_TEST(told("tripped").empty());
  BOOST_TEST(daemon.output().find("hook on_") == std::string::npos, daemon.output());
}

BOOST_AUTO_TEST_CASE(a_trip_is_told_while_the_service_stays) {
  Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd", arguments({}), folder / "daemon.log");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("looking for the engine", once_limit_s), daemon.output());
  Process halt(LAPWRIGHT_PROGRAMS "/lapwright", {"halt", "--socket", socket.string()}, folder / "client.log");
  BOOST_TEST(halt.wait(once_limit_s).value() == exit_ok, halt.output());
  BOOST_REQUIRE_MESSAGE(daemon.wrote("tripped: ", once_limit_s), daemon.output());
  daemon.signal(SIGTERM);
  BOOST_REQUIRE_MESSAGE(daemon.wait(once_limit_s).has_value(), daemon.output());
  const auto documents = told("tripped");
  BOOST_REQUIRE_MESSAGE(documents.size() == 1U, daemon.output());
  BOOST_TEST(documents[0]["event"] == "trip");
  BOOST_TEST(documents[0]["title"] == "Fellbeck no. 7");
  BOOST_TEST(documents[0]["sentence"].get<std::string>().find("a person at the control socket") == 0U);
}

BOOST_AUTO_TEST_CASE(a_hook_that_fails_is_a_line_of_the_log) {
  forget_momentum();
  nlohmann::json json = nlohmann::json::parse(std::ifstream(configuration));
  json["hooks"]["on_finish"] = nlohmann::json::array({"no_such_bell.sh"});
  std::ofstream(configuration) << json;
  Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd", arguments({"--once"}), folder / "daemon.log");
  BOOST_TEST(daemon.wait(once_limit_s).value() == exit_needs_person, daemon.output());
  BOOST_TEST(
      daemon.output().find("no_such_bell.sh): it can't be started: No such file or directory") != std::string::npos,
      daemon.output());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
