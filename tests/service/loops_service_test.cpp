// Several loops in one process: each with its own socket, queue and state, and a halt that means all of them.
#include <boost/test/unit_test.hpp>
#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/exit_codes.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double begin_limit_s = 15;
constexpr double finish_limit_s = 20;

const fs::path serving = LAPWRIGHT_PROGRAMS "/lapwrightd";
const fs::path asking = LAPWRIGHT_PROGRAMS "/lapwright";

/// Two loops, "west" and "east", made of the demo's.
struct TwoSheds {
  TwoSheds() {
    fs::copy(LAPWRIGHT_CONFIGS, folder / "configs", fs::copy_options::recursive);
    for (const std::string name : {"west", "east"}) {
      nlohmann::json json = nlohmann::json::parse(std::ifstream(folder / "configs/demo.json"));
      json["limits"]["late_s"] = 1;  // these tests run under the sanitizers, too
      json["control_socket"] = (folder / (name + ".sock")).string();
      json["state"] = name + "-state";
      json["reports"] = name + "-reports";
      std::ofstream(file(name)) << json;
    }
  }
  [[nodiscard]] fs::path file(const std::string& name) const { return folder / "configs" / (name + ".json"); }
  [[nodiscard]] std::vector<std::string> both() const {
    return {"--config", file("west").string(), "--config", file("east").string()};
  }
  int ask(const std::string& what, const std::string& name) {
    Process client(asking, {what, "--socket", (folder / (name + ".sock")).string()}, folder / "client.log");
    const std::optional<int> code = client.wait(begin_limit_s);
    said = client.output();
    return code.value();
  }

  TemporaryFolder own;
  const fs::path folder = own.path();
  std::string said;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(loops, TwoSheds)

BOOST_AUTO_TEST_CASE(run_side_by_side_and_a_halt_means_both) {
  Process daemon(serving, both(), folder / "daemon.log");
  for (const std::string name : {"west", "east"}) {
    BOOST_REQUIRE_MESSAGE(daemon.wrote("[" + name + "] [info] engine 1 of 3", begin_limit_s), daemon.output());
    BOOST_TEST(ask("status", name) == exit_ok, said);
    BOOST_TEST(fs::exists(folder / "configs" / (name + "-state") / "journal"));
  }
  BOOST_TEST(ask("halt", "east") == exit_ok, said);
  BOOST_TEST(said ==
             "the engine is halted and the track is dead; the other loops were told to halt, too: look at them\n");
  BOOST_REQUIRE_MESSAGE(daemon.wrote("[west] [error] tripped: ", finish_limit_s) ||
                            daemon.wrote("[west] [info] tripped: ", finish_limit_s),
                        daemon.output());
  BOOST_TEST(daemon.output().find("a person at the control socket of east asked to make the track dead at once") !=
                 std::string::npos,
             daemon.output());
  BOOST_TEST(ask("clear", "east") == exit_ok, said);
  BOOST_TEST(ask("status", "west") == exit_ok);
  BOOST_TEST(said.find("tripped") != std::string::npos, said);  // one loop is cleared, the other one is not
  daemon.signal(SIGTERM);
  BOOST_TEST(daemon.wait(finish_limit_s).has_value(), daemon.output());
  BOOST_TEST(daemon.output().find("[east] [info] stopped: engine halted, track power off") != std::string::npos);
  BOOST_TEST(daemon.output().find("[west] [info] stopped: engine halted, track power off") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(what_they_would_share_is_refused) {
  Process daemon(serving, {file("west").string(), file("west").string()}, folder / "daemon.log");
  BOOST_TEST(daemon.wait(finish_limit_s).value() == exit_configuration, daemon.output());
  BOOST_TEST(daemon.output().find("west.json: /state: ") != std::string::npos, daemon.output());
  BOOST_TEST(daemon.output().find("give each loop its own \"state\" and \"control_socket\"") != std::string::npos);

  std::vector<std::string> words = both();
  words.insert(words.end(), {"--record", (folder / "traffic").string()});
  Process recording(serving, words, folder / "recording.log");
  BOOST_TEST(recording.wait(finish_limit_s).value() == exit_usage, recording.output());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
