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
  at_once.rebuild(all, slope, {});
  Eigen::VectorXd speeds(static_cast<Eigen::Index>(all.size()));
  for (std::size_t i = 0; i < all.size(); ++i) speeds(static_cast<Eigen::Index>(i)) = all[i].speed;
  Posterior whole(scales, slope);
  whole.factorise(at_once, speeds);

  std::vector<Observation> some(all.begin(), all.begin() + 5);
  kernel::Parts parts;
  parts.rebuild(some, slope, {});
  Posterior grown(scales, slope);
  grown.factorise(parts, speeds.head(5));
  for (std::size_t i = 5; i < all.size(); ++i) {
    some.push_back(all[i]);
    parts.append(some, slope, {});
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

BOOST_AUTO_TEST_CASE(queries_that_are_remembered_equal_fresh_ones) {
  const std::vector<Observation> all = passes(40);
  constexpr double slope = 0.1;
  const std::vector<Query> queries = {{35, Direction::forward}, {all[7].drive, all[7].direction}};
  std::vector<Observation> some(all.begin(), all.begin() + 9);
  kernel::Parts parts;
  parts.rebuild(some, slope, {});
  Levels levels;
  for (const Observation& seen : some) levels.note(seen.drive, seen.direction);
  Posterior grown(ResponseScales{}, slope);
  grown.factorise(parts, Eigen::VectorXd::LinSpaced(9, 1, 9));
  BOOST_TEST(grown.crosses(queries, levels).rows() == 9);
  for (std::size_t i = 9; i < all.size(); ++i) {
    some.push_back(all[i]);
    levels.note(all[i].drive, all[i].direction);
    parts.append(some, slope, {});
    grown.append(parts, all[i].speed);
    if (i == 20) BOOST_TEST(grown.crosses(queries, levels).rows() == 21);  // one row and several rows at a time
    if (i == 21) BOOST_TEST(grown.crosses(queries, levels).rows() == 22);
  }
  // Written out from the kernel: the covariance of each pass with the warm speed at the query, whitened.
  Eigen::MatrixXd fresh(40, 2);
  for (Eigen::Index q = 0; q < 2; ++q) {
    const Query& query = queries[static_cast<std::size_t>(q)];
    for (Eigen::Index row = 0; row < 40; ++row) {
      const Observation& seen = all[static_cast<std::size_t>(row)];
      fresh(row, q) = kernel::warm_covariance(ResponseScales{}, slope, kernel::Place(query.drive, query.direction),
                                              kernel::Place(seen.drive, seen.direction));
    }
  }
  grown.whiten(fresh);
  BOOST_TEST((grown.crosses(queries, levels) - fresh).norm() <= 1e-9 * fresh.norm());
}

BOOST_AUTO_TEST_CASE(a_pass_to_come_is_a_sum_of_the_moments_columns) {
  const std::vector<Observation> all = passes(25);
  const ResponseScales scales;
  const Observation pass{77, Direction::reverse, 6.5, 410, 0};
  const Eigen::VectorXd sum =
      kernel::moment_columns(all, pass.running_s) * kernel::moment_weights(scales, pass.speed, pass.direction);
  for (Eigen::Index row = 0; row < sum.size(); ++row) {
    const Observation& seen = all[static_cast<std::size_t>(row)];
    const double direct = kernel::passing(scales, pass, seen, kernel::fading(pass.running_s + seen.running_s),
                                          kernel::lasting(std::abs(pass.running_s - seen.running_s)));
    BOOST_TEST(std::abs(sum(row) - direct) <= 1e-12);
  }
}

BOOST_AUTO_TEST_CASE(the_bend_needs_no_exponential_of_the_distance) {
  // Matérn covariance of smoothness 5/2 (Rasmussen and Williams, Gaussian Processes for Machine Learning, eq. 4.17).
  for (const double far : {0.0, 0.5, 20.0, 255.0}) {
    const double r = std::sqrt(5.0) * far / 60;
    const double expected = (1 + r + r * r / 3) * std::exp(-r) * (1 - 0.09);
    const double found =
        kernel::shape(kernel::Place(255 - far, Direction::forward), kernel::Place(255, Direction::reverse));
    BOOST_TEST(std::abs(found - expected) <= 1e-12);
  }
}

BOOST_AUTO_TEST_CASE(levels_gather_the_weights_of_their_passes) {
  const std::vector<Observation> all = passes(12);
  kernel::Parts parts;
  parts.rebuild(all, 0.1, {});
  Eigen::VectorXd speeds = Eigen::VectorXd::LinSpaced(12, 1, 12);
  Posterior some(ResponseScales{}, 0.1);
  some.factorise(parts, speeds);
  Levels levels;
  for (const int level : {0, 1, 0, 1, 2, 2, 0, 1, 2, 0, 1, 2}) levels.note(20.0 + level, Direction::forward);
  some.gather(levels);
  BOOST_TEST(some.level_weights().size() == 3);
  BOOST_TEST(std::abs(some.level_weights().sum() - some.weights().sum()) < 1e-9);
  const double first = some.weights()(0) + some.weights()(2) + some.weights()(6) + some.weights()(9);
  BOOST_TEST(std::abs(some.level_weights()(0) - first) < 1e-9);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
