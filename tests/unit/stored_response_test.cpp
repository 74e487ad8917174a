// A tune's passes in the engine's document: they come back as they were, and only where they mean the same again.
#include "daemon/stored_response.h"

#include <boost/test/unit_test.hpp>
#include <nlohmann/json.hpp>

#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

struct Kept {
  Kept() {
    for (int step = 1; step <= 28; ++step) job.order.aims.push_back({step, 3.0 * step, 0.3, true});
    result.tune.response = {84.0 / 18, 0.6, {0.25, true}, {}};
    result.tune.response.passes = {{36.25, Direction::forward, 4.0625, 120.5, 0.001953125, 0},
                                   {150, Direction::reverse, 17.5, 300.25, 0.25, 1}};
    result.tune.scales = ResponseScales{};
    result.cvs = {{cv::start_voltage, 0}, {cv::top_voltage, 250}, {cv::forward_trim, 60}, {cv::reverse_trim, 61}};
    for (int entry = 1; entry <= cv::table_entries; ++entry) {
      result.cvs[cv::table_entry(entry)] = static_cast<std::uint8_t>(8 * entry);
    }
  }
  [[nodiscard]] EngineFile file() { return {storage, folder.path(), job.record}; }
  void add(const std::string& id) { file().add(work_of(job, result, id, "tonight")); }
  [[nodiscard]] std::optional<EarlierSession> earlier() { return earlier_session(job, file().known()); }

  TemporaryFolder folder;
  RealStorage storage;
  Job job = samples::job();
  JobResult result = samples::result();
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(stored_response, Kept)

BOOST_AUTO_TEST_CASE(passes_come_back_a_session_older) {
  BOOST_TEST(!earlier());
  add("a");
  const std::optional<EarlierSession> session = earlier();
  BOOST_REQUIRE(session.has_value());
  BOOST_REQUIRE(session->response.passes.size() == 2U);
  const Observation& first = session->response.passes.front();
  BOOST_TEST(first.drive == 36.25);
  BOOST_TEST((first.direction == Direction::forward));
  BOOST_TEST(first.speed == 4.0625);
  BOOST_TEST(first.running_s == 120.5);
  BOOST_TEST(first.timing_sd == 0.001953, boost::test_tools::tolerance(1e-3));
  BOOST_TEST(first.sessions_ago == 1);
  BOOST_TEST(session->response.passes.back().sessions_ago == 2);
  BOOST_TEST((session->scales.rounding == Rounding{0.25, true}));
  BOOST_TEST(session->response.run_up_s == 0.6);
  BOOST_TEST(session->settings.top_voltage == 250);
  BOOST_TEST(session->settings.trim[1] == 61);
  BOOST_TEST(session->settings.table.back() == 224);
}

BOOST_AUTO_TEST_CASE(a_work_without_passes_leaves_them) {
  add("a");
  result.work = Work::check;
  result.tune.response = {};
  add("b");
  result.work = Work::restore;
  add("c");
  result.work = Work::tune;
  result.tune.end = TuneEnd::position_lost;  // what it saw may be wrong
  result.tune.response.passes = {{100, Direction::forward, 1, 1, 0, 0}};
  add("d");
  BOOST_REQUIRE(earlier().has_value());
  BOOST_TEST(earlier()->response.passes.size() == 2U);
}

BOOST_AUTO_TEST_CASE(they_are_of_no_use_to_other_speeds_another_trap_or_half_a_table) {
  add("a");
  const Job held = job;
  job.order.aims.back().speed_mm_s *= 1.1;
  BOOST_TEST(!earlier());
  job = held;
  job.speed_defined = "over a lap";
  BOOST_TEST(!earlier());
  job = held;
  BOOST_TEST(earlier().has_value());
  KnownEngine known = file().known();
  known.cvs.erase(cv::table_entry(7));
  BOOST_TEST(!earlier_session(job, known));
}

BOOST_AUTO_TEST_CASE(a_line_that_is_no_pass_is_told) {
  for (const char* line : {"", "36 forward 4", "36 sideways 4 120 0.001 0", "300 forward 4 120 0.001 0",
                           "36 forward -4 120 0.001 0", "36 forward 4 120 0.001 -1", "36 forward 4 nan 0 0"}) {
    Record json = response_json(result.tune.response);
    json["passes"].push_back(line);
    BOOST_CHECK_THROW(static_cast<void>(read_response(json)), std::invalid_argument);
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
