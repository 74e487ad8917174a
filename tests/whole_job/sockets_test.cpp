// The whole job through sockets: the service in a process of its own tunes a quick engine over real byte streams.
#include <boost/test/unit_test.hpp>

#include "daemon/exit_codes.h"
#include "tests/whole_job/works.h"

namespace lapwright {
namespace {

constexpr double tune_limit_s = 240;  // twice the two minutes that a tune may take, for a loaded machine
const std::filesystem::path programs = LAPWRIGHT_PROGRAMS;

std::unique_ptr<Process> start_tune(Works& works, const std::string& name) {
  const std::vector<std::string> arguments = {"--config",
                                              works.wired(name).string(),
                                              "--once",
                                              "--socket",
                                              works.file(name + ".sock").string(),
                                              "--record",
                                              works.file(name + ".traffic").string()};
  return std::make_unique<Process>(programs / "lapwrightd", arguments, works.file(name + ".log"));
}

/// What the virtual clock reaches with the same track, engine and sheet, but without wires.
nlohmann::json rehearsed(Works& works, const std::string& name) {
  Process rehearsal(programs / "lapwright", {"rehearse", works.direct(name).string()},
                    works.file(name + "_direct.log"));
  const auto status = rehearsal.wait(60);
  BOOST_REQUIRE_MESSAGE(status == exit_ok, rehearsal.output());
  return works.report(name + "_direct");
}

void check_like(const nlohmann::json& wired, const nlohmann::json& direct) {
  BOOST_TEST(wired["outcome"]["end"] == "complete");
  BOOST_TEST(wired["outcome"]["end"] == direct["outcome"]["end"]);
  BOOST_TEST(wired["outcome"]["steps"] == direct["outcome"]["steps"]);
  BOOST_TEST(wired["traits"] == direct["traits"]);
  BOOST_TEST(wired["owed"].empty());
  BOOST_REQUIRE(wired["steps"].size() == direct["steps"].size());
  for (std::size_t i = 0; i < wired["steps"].size(); ++i) {
    BOOST_TEST(wired["steps"][i]["step"] == direct["steps"][i]["step"]);
    BOOST_TEST(wired["steps"][i]["verdict"] == direct["steps"][i]["verdict"]);
  }
}

bool says(const nlohmann::json& report, const std::string& text) {
  return report["protection_missing"].dump().find(text) != std::string::npos;
}

}  // namespace

BOOST_FIXTURE_TEST_SUITE(sockets, Works)

// Beside them a third engine comes out of its staging track, over a turnout that the station sets, to be checked (it
// was never tuned, and is not as its sheet says), and goes home.
BOOST_AUTO_TEST_CASE(two_rigs_tuned_at_once) {
  serve();
  const auto bench = start_tune(*this, "bench");
  const auto bus = start_tune(*this, "bus");
  const auto yard = start_tune(*this, "yard");
  const auto bench_ended = bench->wait(tune_limit_s);
  const auto bus_ended = bus->wait(tune_limit_s);
  BOOST_REQUIRE_MESSAGE(bench_ended == exit_ok, bench->output());
  BOOST_REQUIRE_MESSAGE(bus_ended == exit_ok, bus->output());

  for (const std::string name : {"bench", "bus"}) {
    BOOST_TEST_CONTEXT("rig " << name) {
      check_like(report(name), rehearsed(*this, name));
      BOOST_TEST(worst_error(report(name), rig_json(name), file("rowan_engine.json")) < 1);
      const std::string& log = rig().output();
      const std::size_t last = log.rfind(name + ": track ");
      BOOST_REQUIRE(last != std::string::npos);
      BOOST_TEST(log.substr(last).starts_with(name + ": track dead at 0 mm/s"));
      BOOST_TEST(std::filesystem::file_size(file(name + ".traffic")) > 10'000u);
    }
  }
  const auto yard_ended = yard->wait(tune_limit_s);
  BOOST_REQUIRE_MESSAGE(yard_ended == exit_needs_person, yard->output());
  const std::string checked = text("yard/rowan_12-check.txt");
  BOOST_TEST(checked.find("Drifted") != std::string::npos, checked);
  BOOST_TEST(tell("yard status") == exit_ok);
  const std::string status = text("tell.log");
  BOOST_TEST(status.starts_with("track dead"), status);
  BOOST_TEST(status.find(", home in staging track 1") != std::string::npos, status);
  // Honest about what the bus lacks: stamps of the host's own, so wider intervals, and no relay of ours.
  const nlohmann::json with_board = report("bench");
  const nlohmann::json without = report("bus");
  BOOST_TEST(without["steps"][0]["forward"]["half_width"].get<double>() >
             with_board["steps"][0]["forward"]["half_width"].get<double>());
  BOOST_TEST(says(without, "no trackside board"));
  BOOST_TEST(!says(with_board, "no trackside board"));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
