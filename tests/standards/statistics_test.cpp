// The quantiles that verdicts rest on against published tables, and the memory of a certified data set against itself.
#include <boost/math/constants/constants.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "tests/standards/norris_data.h"

namespace {

double t_quantile(double probability, double freedom) {
  return boost::math::quantile(boost::math::students_t(freedom), probability);
}

/// Agrees with a value printed to `decimals` decimals.
bool printed_as(double value, double printed, int decimals) {
  return std::abs(value - printed) <= 0.5001 * std::pow(10, -decimals);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(statistics)

BOOST_AUTO_TEST_CASE(normal_quantiles) {
  // NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.1 (cumulative normal) read backwards, and the last
  // row of table 1.3.6.7.2 (from memory)
  const boost::math::normal normal;
  BOOST_TEST(printed_as(boost::math::quantile(normal, 0.90), 1.282, 3));
  BOOST_TEST(printed_as(boost::math::quantile(normal, 0.95), 1.645, 3));
  BOOST_TEST(printed_as(boost::math::quantile(normal, 0.975), 1.960, 3));
  BOOST_TEST(printed_as(boost::math::quantile(normal, 0.99), 2.326, 3));
  BOOST_TEST(printed_as(boost::math::quantile(normal, 0.995), 2.576, 3));
  BOOST_TEST(printed_as(boost::math::cdf(normal, 1.00) - 0.5, 0.34134, 5));
  BOOST_TEST(printed_as(boost::math::cdf(normal, 1.96) - 0.5, 0.47500, 5));
}

BOOST_AUTO_TEST_CASE(student_quantiles) {
  // NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2, upper critical values (from memory)
  struct Row {
    double freedom, at_90, at_95, at_975, at_99;
  };
  for (const Row& row :
       {Row{1, 3.078, 6.314, 12.706, 31.821}, Row{2, 1.886, 2.920, 4.303, 6.965}, Row{3, 1.638, 2.353, 3.182, 4.541},
        Row{4, 1.533, 2.132, 2.776, 3.747}, Row{5, 1.476, 2.015, 2.571, 3.365}, Row{10, 1.372, 1.812, 2.228, 2.764},
        Row{20, 1.325, 1.725, 2.086, 2.528}, Row{30, 1.310, 1.697, 2.042, 2.457}}) {
    BOOST_TEST_CONTEXT(row.freedom << " degrees of freedom") {
      BOOST_TEST(printed_as(t_quantile(0.90, row.freedom), row.at_90, 3));
      BOOST_TEST(printed_as(t_quantile(0.95, row.freedom), row.at_95, 3));
      BOOST_TEST(printed_as(t_quantile(0.975, row.freedom), row.at_975, 3));
      BOOST_TEST(printed_as(t_quantile(0.99, row.freedom), row.at_99, 3));
    }
  }
}

BOOST_AUTO_TEST_CASE(student_closed_forms) {
  // Derived: one degree of freedom is Cauchy's distribution, quantile tan(pi·(p - 1/2)); for two degrees the
  // distribution function 1/2 + t/(2·sqrt(2 + t²)) inverts to (2p - 1)·sqrt(2/(4p·(1 - p))).
  for (const double p : {0.6, 0.9, 0.95, 0.975, 0.995}) {
    const double one = std::tan(boost::math::constants::pi<double>() * (p - 0.5));
    const double two = (2 * p - 1) * std::sqrt(2 / (4 * p * (1 - p)));
    BOOST_TEST(t_quantile(p, 1) == one, boost::test_tools::tolerance(1e-12));
    BOOST_TEST(t_quantile(p, 2) == two, boost::test_tools::tolerance(1e-12));
  }
}

BOOST_AUTO_TEST_CASE(norris_is_remembered_right) {
  // NIST StRD, linear regression, data set Norris: a wrong digit in any reading would move the certified values.
  const auto count = static_cast<long double>(lapwright::norris::readings.size());
  long double mean_x = 0, mean_y = 0;
  for (const auto& reading : lapwright::norris::readings) {
    mean_x += static_cast<long double>(reading.x) / count;
    mean_y += static_cast<long double>(reading.y) / count;
  }
  long double xx = 0, xy = 0, yy = 0;
  for (const auto& reading : lapwright::norris::readings) {
    const long double dx = reading.x - mean_x, dy = reading.y - mean_y;
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const long double slope = xy / xx;
  const long double intercept = mean_y - slope * mean_x;
  const long double sd = std::sqrt((yy - slope * xy) / (count - 2));
  const auto close = [](long double value, long double certified) {
    return std::abs(value / certified - 1) < 1e-10L;  // the readings themselves are doubles
  };
  BOOST_TEST(close(slope, lapwright::norris::slope));
  BOOST_TEST(close(intercept, lapwright::norris::intercept));
  BOOST_TEST(close(sd, lapwright::norris::residual_sd));
  BOOST_TEST(close(sd / std::sqrt(xx), lapwright::norris::slope_error));
  BOOST_TEST(close(sd * std::sqrt(1 / count + mean_x * mean_x / xx), lapwright::norris::intercept_error));
}

BOOST_AUTO_TEST_SUITE_END()
