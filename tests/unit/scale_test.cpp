#include "tuning/scale.h"

#include <boost/test/unit_test.hpp>
#include <random>

using namespace lapwright;
namespace tt = boost::test_tools;

BOOST_AUTO_TEST_SUITE(scale)

BOOST_AUTO_TEST_CASE(names_are_exact) {
  BOOST_TEST(named_scale("HO")->ratio == 87.1);
  BOOST_TEST(named_scale("H0")->ratio == 87.0);
  BOOST_TEST(named_scale("O")->ratio == 48.0);
  BOOST_TEST(named_scale("0")->ratio == 45.0);
  BOOST_TEST(named_scale("N")->name == "N");
  for (const auto* name : {"", "ho", "G", "HO ", "87.1"}) BOOST_TEST(!named_scale(name));
}

BOOST_AUTO_TEST_CASE(there_and_back) {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> any_speed(0.1, 200), any_base_mm(10, 5000);
  for (const NamedRatio& scale : named_ratios()) {
    for (const SpeedUnit unit : {SpeedUnit::mph, SpeedUnit::kmh}) {
      const double speed = any_speed(random), base_mm = any_base_mm(random);
      const double back = scale_speed(model_mm_s(speed, unit, scale.ratio), unit, scale.ratio);
      const double time_s = time_over_base_s(base_mm, speed, unit, scale.ratio);
      BOOST_TEST(back == speed, tt::tolerance(1e-14));
      BOOST_TEST(speed_over_base(base_mm, time_s, unit, scale.ratio) == speed, tt::tolerance(1e-14));
      BOOST_TEST(in_unit(in_unit(speed, unit, SpeedUnit::kmh), SpeedUnit::kmh, unit) == speed, tt::tolerance(1e-14));
    }
  }
}

BOOST_AUTO_TEST_CASE(known_at_compile_time) {
  static_assert(in_unit(1, SpeedUnit::mph, SpeedUnit::kmh) > 1.6 && in_unit(1, SpeedUnit::mph, SpeedUnit::kmh) < 1.61);
  static_assert(in_unit(7.5, SpeedUnit::mph, SpeedUnit::mph) == 7.5);
  BOOST_TEST(unit_name(SpeedUnit::kmh) == "km/h");
}

BOOST_AUTO_TEST_SUITE_END()
