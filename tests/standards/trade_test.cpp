// Facts of the trade, each "common practice, no source" unless a standard is named, and CV encodings of S-9.2.2.
#include <boost/test/unit_test.hpp>
#include <stdexcept>

#include "drivers/dcc/cv_meaning.h"
#include "drivers/settings/sheet_file.h"
#include "tuning/cv_encoding.h"
#include "tuning/target_sheet.h"

using namespace lapwright;
namespace tt = boost::test_tools;

namespace {

/// The shipped sheet, wherever the tests are run from.
TargetSheet shipped(const std::string& file) {
  const std::string here = __FILE__;
  return settings::load_sheet(here.substr(0, here.rfind("tests/standards/")) + "configs/sheets/" + file);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(trade)

BOOST_AUTO_TEST_CASE(brake_shares) {
  // common practice, no source: brakes of 20 %, 33.33 % and 40 % are stored as 51, 85 and 102
  BOOST_TEST(cv::share_to_cv(0.20) == 51);
  BOOST_TEST(cv::share_to_cv(0.3333) == 85);
  BOOST_TEST(cv::share_to_cv(0.40) == 102);
  BOOST_TEST(cv::share_to_cv(0) == 0);
  BOOST_TEST(cv::share_to_cv(1) == 255);
  BOOST_TEST(cv::cv_to_share(51) == 0.2, tt::tolerance(1e-15));
  BOOST_CHECK_THROW(static_cast<void>(cv::share_to_cv(1.01)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(cv::share_to_cv(-0.01)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(consist_functions) {
  // common practice, no source: F5 to F8 followed in a consist make CV21 = 240
  BOOST_TEST(cv::consist_functions({5, 6, 7, 8}) == 240);
  // S-9.2.2, CV21: bit 0 is F1 … bit 7 is F8
  BOOST_TEST(cv::consist_functions({1}) == 1);
  BOOST_TEST(cv::consist_functions({}) == 0);
  BOOST_CHECK_THROW(static_cast<void>(cv::consist_functions({0})), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(momentum) {
  // common practice, no source: CV3 = 28 gives about 25 s from rest to top
  BOOST_TEST(28 * dcc::momentum_s_per_step(28, 0, 28) == 25.0, tt::tolerance(0.005));
}

BOOST_AUTO_TEST_CASE(slow_freight_sheet) {
  // common practice, no source: 1 smph at step 1, 18 smph at the top, straight between; 1.1 read for 1.0 is good
  const std::vector<StepTarget> targets = expand(shipped("slow_freight.json"));
  BOOST_REQUIRE(targets.size() == 28);
  BOOST_TEST(targets.front().speed == 1.0);
  BOOST_TEST(targets.back().speed == 18.0);
  for (const StepTarget& target : targets) {
    BOOST_TEST(target.prove);
    BOOST_TEST(target.speed == 1 + (target.step - 1) * 17.0 / 27.0, tt::tolerance(1e-14));
  }
  BOOST_TEST(std::abs(1.1 - targets.front().speed) <= targets.front().tolerance * (1 + 1e-12));
  BOOST_TEST(std::abs(1.2 - targets.front().speed) > targets.front().tolerance);
}

BOOST_AUTO_TEST_CASE(notched_freight_sheet) {
  // common practice, no source: notch 1 at 2.5, notch 4 at 10, notch 8 at 18 smph
  const TargetSheet sheet = shipped("notched_freight.json");
  BOOST_TEST(sheet.points.size() == 8);
  int proved = 0;
  for (const StepTarget& target : expand(sheet)) {
    proved += target.prove ? 1 : 0;
    if (target.notch == "1") BOOST_TEST(target.speed == 2.5);
    if (target.notch == "4") BOOST_TEST(target.speed == 10.0);
    if (target.notch == "8") BOOST_TEST(target.speed == 18.0);
  }
  BOOST_TEST(proved == 8);
}

BOOST_AUTO_TEST_CASE(other_shipped_sheets) {
  BOOST_TEST(expand(shipped("quillmoor_passenger.json")).size() == 28);
  BOOST_TEST(expand(shipped("tarn_shunter_126.json")).size() == 126);
}

BOOST_AUTO_TEST_SUITE_END()
