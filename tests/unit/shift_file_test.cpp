// A shift as a file of its own: what it names, and that it takes no more than the configuration allows.
#include "daemon/shift_file.h"

#include <boost/test/unit_test.hpp>
#include <fstream>

#include "daemon/config_check.h"
#include "daemon/configuration.h"
#include "daemon/order.h"
#include "drivers/settings/errors.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

struct ShiftFolder {
  [[nodiscard]] std::filesystem::path write(const std::string& text) const {
    const std::filesystem::path file = folder.path() / "tonight.json";
    std::ofstream(file) << text;
    return file;
  }
  [[nodiscard]] std::string mistakes(const std::string& text, const ShiftFrame& frame = {}) const {
    try {
      (void)load_shift(write(text), frame);
    } catch (const settings::Errors& errors) {
      return errors.what();
    }
    return "";
  }
  static AllowedHours hours(const char* from, const char* to) {
    return AllowedHours({HourWindow{*minutes_of(from), *minutes_of(to)}});
  }
  TemporaryFolder folder;
};

bool tells(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(shift_file, ShiftFolder)

BOOST_AUTO_TEST_CASE(engines_works_hours_and_caps) {
  const ShiftFrame frame{hours("20:00", "08:00"), RunningCaps{}};
  const ShiftPlan plan = load_shift(write(R"({"engines": [
      {"record": "records/a.json", "sheet": "/sheets/b.json"}, {"record": "c.json", "sheet": "d.json", "work": "restore"}],
      "hours": [{"from": "22:00", "to": "05:00"}], "caps": {"running_s": 7200}})"),
                                    frame);
  BOOST_REQUIRE(plan.engines.size() == 2U);
  BOOST_TEST(plan.engines[0].record == folder.path() / "records/a.json");
  BOOST_TEST(plan.engines[0].sheet == "/sheets/b.json");
  BOOST_TEST((plan.engines[0].work == Work::tune));
  BOOST_TEST((plan.engines[1].work == Work::restore));
  BOOST_TEST(plan.hours.text() == "20:00-08:00 and within 22:00-05:00");
  BOOST_TEST(plan.caps.job_s == 7200);
  BOOST_TEST(plan.caps.day_s == RunningCaps{}.day_s);
  BOOST_TEST(plan.caps.shift_s == RunningCaps{}.shift_s);
}

BOOST_AUTO_TEST_CASE(a_shift_takes_no_more_than_is_allowed) {
  RunningCaps caps;
  caps.shift_s = 3600;
  const std::string wide = mistakes(R"({"engines": [], "caps": {"shift_running_s": 7200}})", {AllowedHours(), caps});
  BOOST_TEST(tells(wide, "/caps/shift_running_s: 7200"), wide);
  BOOST_TEST(tells(wide, "no more than /limits of the configuration allow"), wide);
  const ShiftFrame night{hours("22:00", "06:00"), RunningCaps{}};
  const std::string apart = mistakes(R"({"engines": [], "hours": [{"from": "07:00", "to": "09:00"}]})", night);
  BOOST_TEST(tells(apart, "/hours: 07:00-09:00 never meets the configuration's 22:00-06:00"), apart);
  const std::string what = mistakes(R"({"engines": [{"record": "a", "sheet": "b", "work": "polish"}]})");
  BOOST_TEST(tells(what, "/engines/0/work"), what);
}

/// configs/demo.json with a shift in the place of its own, on the command line or in the configuration itself.
BOOST_AUTO_TEST_CASE(in_the_place_of_the_configurations_own) {
  const std::filesystem::path demo = LAPWRIGHT_CONFIGS "/demo.json";
  const std::filesystem::path look = LAPWRIGHT_CONFIGS "/shifts/morning_look.json";
  const Configuration loaded = load_configuration(demo, look);
  const std::vector<Job> jobs = plan_shift(loaded);
  BOOST_REQUIRE(jobs.size() == 2U);
  BOOST_TEST((jobs[0].work == Work::tune));
  BOOST_TEST((jobs[1].work == Work::check));  // of the same engine: that undoes nothing
  BOOST_TEST(loaded.hours.text() == "06:00-09:30");
  BOOST_TEST(loaded.caps.shift_s == 7200);
  BOOST_TEST(check_configuration(demo, look).code == exit_ok);
  BOOST_TEST(check_configuration(demo, write("{")).code == exit_configuration);

  const std::filesystem::path naming = folder.path() / "naming.json";
  std::ofstream(naming) << R"({"name": "Works", "rig": {"kind": "simulated", "railway": {}, "engines": []},
    "track": {"shape": "loop", "length_mm": 6000, "gates": [{"name": "west", "position_mm": 1000}]},
    "shift": "tonight.json"})";
  (void)write(R"({"engines": [{"record": "a.json", "sheet": "b.json"}]})");
  const std::vector<ShiftEntry> engines = engines_of(naming);
  BOOST_REQUIRE(engines.size() == 1U);
  BOOST_TEST(engines[0].record == folder.path() / "a.json");
  BOOST_TEST(engines_of(naming, look).size() == 2U);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
