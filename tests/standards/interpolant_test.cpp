// The slopes of the interpolant against the conditions of F. N. Fritsch and R. E. Carlson, "Monotone Piecewise Cubic
// Interpolation", SIAM J. Numer. Anal. 17(2), 1980, pp. 238-246 (from memory).
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>

#include "tuning/monotone.h"

using namespace lapwright;

namespace {

/// The paper's necessary and sufficient condition on alpha = d(k)/chord and beta = d(k+1)/chord of one interval:
/// both ≥ 0, and alpha + beta ≤ 2, or 2·alpha + beta ≤ 3, or alpha + 2·beta ≤ 3, or phi(alpha, beta) ≥ 0.
bool monotone_region(double alpha, double beta) {
  if (alpha < 0 || beta < 0) return false;
  if (alpha + beta <= 2 || 2 * alpha + beta <= 3 || alpha + 2 * beta <= 3) return true;
  const double a = 2 * alpha + beta - 3;
  return alpha - a * a / (3 * (alpha + beta - 2)) >= -1e-12;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(interpolant)

BOOST_AUTO_TEST_CASE(the_region_is_as_published) {
  // Corners named in the paper: the box [0, 3]² touches the region's edge at (3, 3), the ellipse reaches (4, 1), (1,
  // 4).
  BOOST_TEST(monotone_region(3, 3));
  BOOST_TEST(monotone_region(4, 1));
  BOOST_TEST(monotone_region(1, 4));
  BOOST_TEST(!monotone_region(3.1, 3.1));
  BOOST_TEST(!monotone_region(4.01, 1));
  BOOST_TEST(!monotone_region(-0.01, 1));
}

BOOST_AUTO_TEST_CASE(slopes_lie_in_the_published_region_and_circle) {
  int shrunk = 0;
  for (unsigned seed = 0; seed < 1000; ++seed) {
    std::mt19937 random(seed);
    std::exponential_distribution<double> gap(1);
    std::uniform_real_distribution<double> size(-4, 3);
    std::vector<double> x{0}, y{0};
    while (x.size() < 12) {
      x.push_back(x.back() + gap(random) + 1e-3);
      y.push_back(y.back() + (gap(random) < 0.2 ? 0 : std::pow(10, size(random))));
    }
    const std::vector<double> slopes = MonotoneCurve(x, y).slopes();
    for (std::size_t k = 0; k + 1 < x.size(); ++k) {
      const double chord = (y[k + 1] - y[k]) / (x[k + 1] - x[k]);
      if (chord == 0) {  // Lemma 1's premise: on a level interval both slopes must be zero
        BOOST_TEST((slopes[k] == 0 && slopes[k + 1] == 0));
        continue;
      }
      const double alpha = slopes[k] / chord, beta = slopes[k + 1] / chord;
      BOOST_TEST(monotone_region(alpha, beta));
      BOOST_TEST(alpha * alpha + beta * beta <= 9 * (1 + 1e-12));
      shrunk += alpha * alpha + beta * beta > 9 * (1 - 1e-12) ? 1 : 0;
    }
  }
  BOOST_TEST(shrunk > 100);  // the data do exercise the step that shrinks
}

BOOST_AUTO_TEST_SUITE_END()
