// Scale arithmetic against the statute mile, the standard proportions and the check rows of the project's reference.
#include "tuning/scale.h"

#include <boost/test/unit_test.hpp>

using namespace lapwright;
namespace tt = boost::test_tools;

BOOST_AUTO_TEST_SUITE(scale_standards)

BOOST_AUTO_TEST_CASE(statute_mile) {
  // International yard and pound agreement, 1959: 1 ft = 0.3048 m exactly; the mile has 5280 ft (from memory).
  static_assert(mile_mm == 5280 * 304.8);
  BOOST_TEST(mile_mm == 1'609'344.0);
  BOOST_TEST(in_unit(1, SpeedUnit::mph, SpeedUnit::kmh) == 1.609344, tt::tolerance(1e-15));
  BOOST_TEST(in_unit(1, SpeedUnit::kmh, SpeedUnit::mph) == 0.621371192, tt::tolerance(1e-9));
  BOOST_TEST(model_mm_s(1, SpeedUnit::mph, 1) == 447.04, tt::tolerance(1e-15));
  BOOST_TEST(model_mm_s(1, SpeedUnit::kmh, 1) == 1000 / 3.6, tt::tolerance(1e-15));
}

BOOST_AUTO_TEST_CASE(proportions) {
  const auto ratio = [](const char* name) { return named_scale(name).value().ratio; };
  // NEM 010 (reference/dcc.md §10.1)
  BOOST_TEST(ratio("Z") == 220.0);
  BOOST_TEST(ratio("N") == 160.0);
  BOOST_TEST(ratio("TT") == 120.0);
  BOOST_TEST(ratio("H0") == 87.0);
  BOOST_TEST(ratio("S") == 64.0);
  BOOST_TEST(ratio("0") == 45.0);
  BOOST_TEST(ratio("I") == 32.0);
  BOOST_TEST(ratio("II") == 22.5);
  BOOST_TEST(ratio("III") == 16.0);
  BOOST_TEST(ratio("V") == 11.0);
  BOOST_TEST(ratio("VII") == 8.0);
  BOOST_TEST(ratio("X") == 5.5);
  // NMRA S-1.2 and S-1.3 (from memory): 3.5 mm, 4 mm and a quarter inch to the foot, and 1:32
  BOOST_TEST(ratio("HO") == foot_mm / 3.5, tt::tolerance(2e-4));
  BOOST_TEST(ratio("HO") == 87.1);
  BOOST_TEST(ratio("OO") == foot_mm / 4, tt::tolerance(1e-15));
  BOOST_TEST(ratio("O") == foot_mm / (25.4 / 4), tt::tolerance(1e-15));
  BOOST_TEST(ratio("#1") == 32.0);
}

/// reference/dcc.md §10.2, first table; rows 100 … 102 of its §13 are among them.
struct Row {
  double ratio, base_mm, time_s, mm_s, kmh, mph;
};
constexpr Row rows[] = {
    {87.1, 1000, 10, 100.0000, 31.3560, 19.4837},  // row 100
    {160, 500, 4, 125.0000, 72.0000, 44.7387},     // row 101
    {48, 1524, 6.5, 234.4615, 40.5150, 25.1748},   // row 102
    {87, 1000, 10, 100.0000, 31.3200, 19.4613},    //
    {120, 600, 5, 120.0000, 51.8400, 32.2119},     //
    {220, 300, 3, 100.0000, 79.2000, 49.2126},     //
    {64, 914.4, 2.5, 365.7600, 84.2711, 52.3636},  //
    {22.5, 2000, 8, 250.0000, 20.2500, 12.5828},   //
};

BOOST_AUTO_TEST_CASE(speeds_over_a_gate) {
  for (const Row& row : rows) {
    const double half_digit = 0.5001e-4;  // the table has four decimals
    BOOST_TEST_CONTEXT("1:" << row.ratio << ", " << row.base_mm << " mm") {
      BOOST_TEST(std::abs(speed_over_base(row.base_mm, row.time_s, SpeedUnit::kmh, row.ratio) - row.kmh) < half_digit);
      BOOST_TEST(std::abs(speed_over_base(row.base_mm, row.time_s, SpeedUnit::mph, row.ratio) - row.mph) < half_digit);
      const double mm_s = model_mm_s(in_unit(row.kmh, SpeedUnit::kmh, SpeedUnit::mph), SpeedUnit::mph, row.ratio);
      BOOST_TEST(mm_s == row.mm_s, tt::tolerance(3e-6));
    }
  }
}

BOOST_AUTO_TEST_CASE(needed_times) {
  // reference/dcc.md §10.2, second table; the first is row 103 of its §13
  BOOST_TEST(time_over_base_s(1000, 60, SpeedUnit::mph, 87.1) == 3.247286, tt::tolerance(2e-7));
  BOOST_TEST(time_over_base_s(500, 30, SpeedUnit::mph, 160) == 5.965163, tt::tolerance(2e-7));
  BOOST_TEST(time_over_base_s(1000, 100, SpeedUnit::kmh, 87) == 3.132000, tt::tolerance(2e-7));
  BOOST_TEST(time_over_base_s(1000, 5, SpeedUnit::mph, 48) == 21.474588, tt::tolerance(2e-7));
}

BOOST_AUTO_TEST_SUITE_END()
