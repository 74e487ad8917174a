#include "tuning/monotone.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

using namespace lapwright;
namespace tt = boost::test_tools;

namespace {

struct Points {
  std::vector<double> x, y;
};

/// Uneven points whose y never falls (sign = 1) or never rises (sign = -1), some of them level.
Points random_points(std::mt19937& random, double sign) {
  std::uniform_int_distribution<int> count(1, 30);
  std::exponential_distribution<double> gap(1);
  std::bernoulli_distribution level(0.2), jump(0.1);
  Points points;
  double x = gap(random) - 2, y = gap(random) - 2;
  for (int n = count(random); n > 0; --n) {
    points.x.push_back(x);
    points.y.push_back(sign * y);
    x += gap(random) + 1e-3;
    if (!level(random)) y += gap(random) * (jump(random) ? 1000 : 1);
  }
  return points;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(monotone)

BOOST_AUTO_TEST_CASE(monotone_points_give_a_monotone_curve_through_them) {
  for (unsigned seed = 0; seed < 400; ++seed) {
    std::mt19937 random(seed);
    const double sign = seed % 2 == 0 ? 1 : -1;
    const Points points = random_points(random, sign);
    const MonotoneCurve curve(points.x, points.y);
    for (std::size_t k = 0; k < points.x.size(); ++k) BOOST_TEST(curve(points.x[k]) == points.y[k]);
    const double start = points.x.front() - 1, width = points.x.back() + 1 - start;
    const double slack = 1e-13 * (1 + std::abs(points.y.back()) + std::abs(points.y.front()));
    double before = curve(start);
    for (int i = 1; i <= 1000; ++i) {
      const double now = curve(start + width * i / 1000);
      if (sign * (now - before) < -slack) BOOST_ERROR("seed " << seed << " turns at sample " << i);
      before = now;
    }
  }
}

BOOST_AUTO_TEST_CASE(plateaus_stay_flat_and_straight_lines_straight) {
  const MonotoneCurve level({0, 1, 4, 5, 9}, {0, 3, 3, 3, 10});
  for (double x = 1; x <= 5; x += 0.01) BOOST_TEST(level(x) == 3.0);
  const MonotoneCurve line({-1, 0, 0.5, 7, 20}, {-2, 0, 1, 14, 40});
  for (double x = -1; x <= 20; x += 0.1) BOOST_TEST(std::abs(line(x) - 2 * x) < 1e-13);
  for (const double slope : line.slopes()) BOOST_TEST(slope == 2.0, tt::tolerance(1e-14));
}

BOOST_AUTO_TEST_CASE(held_outside_and_turning_only_at_points) {
  const MonotoneCurve hill({0, 1, 2, 3}, {0, 5, 5.5, 1});
  BOOST_TEST(hill(-3) == 0.0);
  BOOST_TEST(hill(99) == 1.0);
  for (double x = 0; x <= 3; x += 0.01) BOOST_TEST(hill(x) <= 5.5);
  BOOST_TEST(MonotoneCurve({4}, {2})(7) == 2.0);
}

BOOST_AUTO_TEST_CASE(refuses_what_is_no_curve) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  BOOST_CHECK_THROW(MonotoneCurve({}, {}), std::invalid_argument);
  BOOST_CHECK_THROW(MonotoneCurve({1, 2}, {1}), std::invalid_argument);
  BOOST_CHECK_THROW(MonotoneCurve({1, 1}, {1, 2}), std::invalid_argument);
  BOOST_CHECK_THROW(MonotoneCurve({1, nan}, {1, 2}), std::invalid_argument);
  BOOST_CHECK_THROW(MonotoneCurve({1, 2}, {1, nan}), std::invalid_argument);
}

BOOST_AUTO_TEST_SUITE_END()
