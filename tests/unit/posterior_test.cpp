// The posterior built pass by pass is the posterior built at once.
#include "tuning/posterior.h"

#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>
#include <vector>

namespace lapwright {
namespace {

std::vector<Observation> passes(std::size_t count) {
  std::mt19937 luck(3);
  std::uniform_real_distribution<> drives(20, 150);
  std::vector<Observation> result;
  for (std::size_t i = 0; i < count; ++i) {
    const double drive = std::round(drives(luck));
    const Direction direction = i % 2 == 0 ? Direction::forward : Direction::reverse;
    result.push_back(Observation{drive, direction, 0.1 * drive, 10.0 + 9.0 * static_cast<double>(i), 0.002});
  }
  return result;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(posterior)

BOOST_AUTO_TEST_CASE(appending_equals_factorising) {
  // Derived: the last row of a Cholesky factor does not change the rows above it.
  const std::vector<Observation> all = passes(90);  // more than the room it begins with
  constexpr double slope = 0.1;
  const ResponseScales scales;
  kernel::Parts at_once;
  at_once.rebuild(all, slope, 0);
  Eigen::VectorXd speeds(static_cast<Eigen::Index>(all.size()));
  for (std::size_t i = 0; i < all.size(); ++i) speeds(static_cast<Eigen::Index>(i)) = all[i].speed;
  Posterior whole(scales, slope);
  whole.factorise(at_once, speeds);

  std::vector<Observation> some(all.begin(), all.begin() + 5);
  kernel::Parts parts;
  parts.rebuild(some, slope, 0);
  Posterior grown(scales, slope);
  grown.factorise(parts, speeds.head(5));
  for (std::size_t i = 5; i < all.size(); ++i) {
    some.push_back(all[i]);
    parts.append(some, slope, 0);
    grown.append(parts, all[i].speed);
  }
  BOOST_TEST((whole.weights() - grown.weights()).norm() <= 1e-6 * whole.weights().norm());
  BOOST_TEST((whole.whitened() - grown.whitened()).norm() <= 1e-9 * whole.whitened().norm());
  Eigen::MatrixXd column = Eigen::MatrixXd::Ones(static_cast<Eigen::Index>(all.size()), 1);
  Eigen::MatrixXd other = column;
  whole.whiten(column);
  grown.whiten(other);
  BOOST_TEST((column - other).norm() <= 1e-9 * column.norm());
}

BOOST_AUTO_TEST_CASE(levels_gather_the_weights_of_their_passes) {
  const std::vector<Observation> all = passes(12);
  kernel::Parts parts;
  parts.rebuild(all, 0.1, 0);
  Eigen::VectorXd speeds = Eigen::VectorXd::LinSpaced(12, 1, 12);
  Posterior some(ResponseScales{}, 0.1);
  some.factorise(parts, speeds);
  const std::vector<std::size_t> level_of = {0, 1, 0, 1, 2, 2, 0, 1, 2, 0, 1, 2};
  some.gather(level_of, 3);
  BOOST_TEST(some.level_weights().size() == 3);
  BOOST_TEST(std::abs(some.level_weights().sum() - some.weights().sum()) < 1e-9);
  const double first = some.weights()(0) + some.weights()(2) + some.weights()(6) + some.weights()(9);
  BOOST_TEST(std::abs(some.level_weights()(0) - first) < 1e-9);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
