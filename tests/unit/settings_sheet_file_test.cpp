#include <boost/test/unit_test.hpp>
#include <string>

#include "drivers/settings/errors.h"
#include "drivers/settings/sheet_file.h"

using namespace lapwright;
using settings::parse_sheet;
using settings::write_sheet;

namespace {

std::string mistakes(const std::string& rest) {
  try {
    static_cast<void>(parse_sheet("{\"name\": \"Local\", \"unit\": \"mph\",\n" + rest + "}", "local.json"));
  } catch (const settings::Errors& errors) {
    return errors.what();
  }
  return "";
}

}  // namespace

BOOST_AUTO_TEST_SUITE(sheet_file)

BOOST_AUTO_TEST_CASE(by_step_with_defaults) {
  const TargetSheet sheet = parse_sheet(
      R"({"name": "Local", "unit": "km/h", "steps28": {"28": {"speed": 60.5, "tolerance": 1}, "1": 2}})", "local.json");
  BOOST_TEST((sheet.unit == SpeedUnit::kmh && sheet.mode == StepMode::steps28 && sheet.fill == Fill::linear));
  BOOST_TEST((sheet.prove == ProveAt::entries && sheet.over == SpeedOver::trap));
  BOOST_TEST(sheet.tolerance == 0.1);
  BOOST_TEST(sheet.tolerance_share == 0.02);
  BOOST_REQUIRE(sheet.points.size() == 2);
  BOOST_TEST(sheet.points[0].step == 1);
  BOOST_TEST(sheet.points[0].speed == 2.0);
  BOOST_TEST(sheet.points[1].speed == 60.5);
  BOOST_TEST(sheet.points[1].tolerance.value() == 1.0);
  BOOST_TEST(!sheet.points[1].tolerance_share);
}

BOOST_AUTO_TEST_CASE(by_notch_is_proved_at_the_notches) {
  const TargetSheet sheet = parse_sheet(R"({"name": "Local", "unit": "mph", "throttle_steps": 126,
      "notches": [{"notch": "1", "step": 16, "speed": 2.5}, {"notch": "run", "step": 126, "speed": 18}]})",
                                        "local.json");
  BOOST_TEST((sheet.mode == StepMode::steps126 && sheet.prove == ProveAt::points));
  BOOST_TEST(sheet.points[1].notch == "run");
}

BOOST_AUTO_TEST_CASE(written_sheets_read_back_the_same) {
  for (const bool notches : {false, true}) {
    TargetSheet sheet{.name = "Every \"setting\"", .unit = SpeedUnit::kmh, .mode = StepMode::steps126, .points = {}};
    sheet.fill = Fill::smooth;
    sheet.prove = notches ? ProveAt::entries : ProveAt::points;
    sheet.over = SpeedOver::lap;
    sheet.tolerance = 0.3;
    sheet.tolerance_share = 0;
    sheet.points = {{.step = 9, .speed = 1.0 / 3},
                    {.step = 100, .speed = 40, .notch = {}, .tolerance = 2, .tolerance_share = 0.125}};
    if (notches) sheet.points[0].notch = "a", sheet.points[1].notch = "b";
    const std::string text = write_sheet(sheet);
    const TargetSheet again = parse_sheet(text, "again.json");
    BOOST_TEST(write_sheet(again) == text);
    BOOST_TEST((again.mode == sheet.mode && again.over == sheet.over && again.prove == sheet.prove));
    BOOST_TEST(again.points[0].speed == sheet.points[0].speed);
    BOOST_TEST(again.points[1].tolerance_share.value() == 0.125);
    BOOST_TEST(again.points[1].notch == sheet.points[1].notch);
  }
}

BOOST_AUTO_TEST_CASE(mistakes_point_at_their_line) {
  BOOST_TEST(mistakes("\"steps28\": {\"1\": 5,\n\"9\": 4}") ==
             "local.json:3: /steps28/9: a speed of 4 mph falls below the 5 of step 1: more throttle would slow the "
             "engine down; give 5 or more");
  BOOST_TEST(mistakes("\"notches\": [{\"notch\": \"1\", \"step\": 5, \"speed\": 3},\n{\"notch\": \"1\", \"step\": 9, "
                      "\"speed\": 3}]") ==
             "local.json:3: /notches/1/speed: notch \"1\" stands twice, at steps 5 and 9; rename one");
  BOOST_TEST(
      mistakes("\"steps126\": {\"1\": -5, \"0\": 3,\n\"127\": 4}") ==
      "local.json:2: /steps126/0: the key \"0\" is not one of \"1\" … \"126\"; write the number without leading zeros\n"
      "local.json:2: /steps126/1: -5 is out of range 0.01 … 500; give a scale speed in the sheet's unit within it\n"
      "local.json:3: /steps126/127: the key \"127\" is not one of \"1\" … \"126\"; write the number without leading "
      "zeros");
  BOOST_TEST(mistakes("\"steps28\": {\"1\": 1}, \"steps126\": {\"1\": 1}") ==
             "local.json:1: a sheet has speeds of one kind; give just one of \"steps28\", \"steps126\" or \"notches\"");
  BOOST_TEST(mistakes("\"fill\": \"smoth\"").find("did you mean \"smooth\"?") != std::string::npos);
  BOOST_TEST(mistakes("\"steps28\": {}").find("has no points") != std::string::npos);
  BOOST_TEST(mistakes("\"throttle_steps\": 28, \"steps28\": {\"1\": 1}").find("throttle_steps") != std::string::npos);
  BOOST_TEST(mistakes("\"throttle_steps\": 100, \"notches\": [{\"notch\": \"1\", \"step\": 5, \"speed\": 3}]") ==
             "local.json:2: /throttle_steps: 100 is no step mode; give 28 or 126");
}

BOOST_AUTO_TEST_SUITE_END()
