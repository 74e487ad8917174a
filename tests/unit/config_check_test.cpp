// The desk check of a configuration: what is in order, all mistakes at once, and which kind they are of.
#include "daemon/config_check.h"

#include <boost/test/unit_test.hpp>
#include <fstream>

#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

struct CheckedFolder {
  CheckedFolder() { fs::copy(LAPWRIGHT_CONFIGS, own.path() / "configs", fs::copy_options::recursive); }
  [[nodiscard]] fs::path file(const std::string& name) const { return own.path() / "configs" / name; }
  void replace(const std::string& name, const std::string& from, const std::string& to) const {
    std::ifstream in(file(name));
    std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    const std::size_t at = text.find(from);
    BOOST_REQUIRE_MESSAGE(at != std::string::npos, name << " holds no " << from);
    std::ofstream(file(name)) << text.replace(at, from.size(), to);
  }
  TemporaryFolder own;
};

/// The first mistake that tells of `part`; empty: none.
std::string mistake(const ConfigCheck& check, const std::string& part) {
  for (const std::string& line : check.mistakes) {
    if (line.find(part) != std::string::npos) return line;
  }
  return {};
}

}  // namespace

BOOST_FIXTURE_TEST_SUITE(config_check, CheckedFolder)

BOOST_AUTO_TEST_CASE(tells_what_was_looked_at) {
  const ConfigCheck check = check_configuration(file("demo.json"));
  BOOST_TEST(check.code == exit_ok);
  BOOST_TEST(check.mistakes.empty());
  BOOST_TEST(check.remarks.empty());
  BOOST_TEST(check.summary == file("demo.json").string() + ": 3 engines, 2 sheets: in order");
}

BOOST_AUTO_TEST_CASE(every_configuration_that_we_hand_out_is_in_order) {
  for (const char* name : {"demo.json", "night.json", "works/bench.json", "works/bus.json"}) {
    const ConfigCheck check = check_configuration(file(name));
    BOOST_TEST(check.code == exit_ok, name << ": " << (check.mistakes.empty() ? "" : check.mistakes.front()));
    BOOST_TEST(check.remarks.empty(), name);
  }
}

BOOST_AUTO_TEST_CASE(mistakes_in_records_and_sheets_are_told_once_and_together) {
  replace("records/fellbeck.json", "\"HO\"", "\"HOO\"");
  replace("sheets/slow_freight.json", "\"unit\"", "\"units\"");  // of two engines
  const ConfigCheck check = check_configuration(file("demo.json"));
  BOOST_TEST(check.code == exit_bad_data);
  BOOST_TEST(check.summary.empty());
  BOOST_TEST(mistake(check, "fellbeck.json:5: /scale: \"HOO\" is no scale known here").size() > 0U);
  BOOST_TEST(mistake(check, "slow_freight.json:").size() > 0U);
  BOOST_TEST(mistake(check, "did you mean \"unit\"?").size() > 0U);
  std::size_t of_sheet = 0;
  for (const std::string& line : check.mistakes) of_sheet += line.find("/units") == std::string::npos ? 0 : 1;
  BOOST_TEST(of_sheet == 1U);
}

BOOST_AUTO_TEST_CASE(a_mistaken_configuration_does_not_hide_those_of_its_files) {
  replace("demo.json", "\"length_mm\": 6000,\n    \"gates\"", "\"length_mm\": -6,\n    \"gates\"");
  replace("records/fellbeck.json", "{\"short\": 7}", "{\"short\": 700}");
  const ConfigCheck check = check_configuration(file("demo.json"));
  BOOST_TEST(check.code == exit_configuration);
  BOOST_TEST(mistake(check, "/track/length_mm: -6").size() > 0U);
  BOOST_TEST(mistake(check, "fellbeck.json:6: /address/short: 700").size() > 0U);
}

BOOST_AUTO_TEST_CASE(whether_they_fit_the_track_is_looked_at_as_well) {
  replace("demo.json", "\"limits\"", "\"trap\": {\"low_gate\": \"north\"}, \"limits\"");
  const ConfigCheck check = check_configuration(file("demo.json"));
  BOOST_TEST(check.code == exit_bad_data);
  BOOST_TEST(mistake(check, "no gate \"north\"").size() > 0U);
}

BOOST_AUTO_TEST_CASE(what_is_no_json_or_not_there) {
  std::ofstream(file("broken.json")) << "{\"name\": ";
  BOOST_TEST(check_configuration(file("broken.json")).code == exit_configuration);
  const ConfigCheck missing = check_configuration(file("missing.json"));
  BOOST_TEST(missing.code == exit_configuration);
  BOOST_TEST(mistake(missing, "missing.json: can't be opened").size() > 0U);
}

BOOST_AUTO_TEST_CASE(a_hook_that_can_not_be_run_is_remarked) {
  replace("demo.json", "\"limits\"", "\"hooks\": {\"on_trip\": [\"no_such_bell\"]}, \"limits\"");
  const ConfigCheck check = check_configuration(file("demo.json"));
  BOOST_TEST(check.code == exit_ok);
  BOOST_REQUIRE(check.remarks.size() == 1U);
  BOOST_TEST(check.remarks[0].find("/hooks/on_trip: " + file("no_such_bell").string() +
                                   " can't be run: No such file") != std::string::npos);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
