// The response model on a straight line whose least-squares fit is certified by NIST.
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <vector>

#include "tests/standards/norris_data.h"
#include "tuning/response.h"

BOOST_AUTO_TEST_SUITE(norris_response)

BOOST_AUTO_TEST_CASE(straight_data_give_the_certified_line) {
  // NIST Statistical Reference Datasets, linear regression, Norris: y = -0.262323 + 1.002117·x, residual standard
  // deviation 0.8848 (certified values from memory, see norris_data.h). The model is no ordinary least-squares fit: it
  // has priors and lets the curve bend, so it has to agree within its own stated uncertainty, not to the last digit.
  // The data run to 1000; drive runs to 255 and speed to 18 units, so both are scaled, and the line with them.
  constexpr double drive_per_x = 255.0 / 1000.0;
  constexpr double units_per_y = 18.0 / 1000.0;
  const auto certified = [](double x) {
    return units_per_y * static_cast<double>(lapwright::norris::intercept + lapwright::norris::slope * x);
  };
  lapwright::Response response;
  double running_s = 2000;  // long warm
  for (const auto& reading : lapwright::norris::readings) {
    response.add(lapwright::Observation{reading.x * drive_per_x, lapwright::Direction::forward, reading.y * units_per_y,
                                        running_s, 0.0});
    running_s += 10;
  }
  response.refit();
  BOOST_TEST(response.dropped() == 0u);
  const double residual_sd = units_per_y * static_cast<double>(lapwright::norris::residual_sd);
  for (const double x : {10.0, 115.0, 228.0, 340.0, 450.0, 558.0, 668.0, 775.0, 888.0, 995.0}) {
    BOOST_TEST_CONTEXT("x = " << x) {
      const lapwright::Query query{x * drive_per_x, lapwright::Direction::forward};
      const std::vector<lapwright::Query> one = {query};
      const lapwright::Estimate estimate = response.warm(one).front();
      BOOST_TEST(std::abs(estimate.mean - certified(x)) < 2.5 * estimate.sd);
      BOOST_TEST(std::abs(response.curve(query) - certified(x)) < 1.5 * residual_sd);
      BOOST_TEST(estimate.sd < 3 * residual_sd);  // and it claims to know the line about as well as the data do
    }
  }
}

BOOST_AUTO_TEST_CASE(friction_loss_is_where_the_certified_line_meets_no_drive) {
  // The same data moved to where no pass counts as slow and the loss lies in its range: drive = x + 10, speed = y + 5.
  constexpr double drive_moved = 10;
  constexpr double speed_moved = 5;
  lapwright::Response response;
  for (const auto& reading : lapwright::norris::readings) {
    response.add(lapwright::Observation{reading.x + drive_moved, lapwright::Direction::forward, reading.y + speed_moved,
                                        2000, 0.0});
  }
  const double certified =
      static_cast<double>(lapwright::norris::slope * drive_moved - lapwright::norris::intercept) - speed_moved;
  BOOST_TEST(response.friction_loss() == certified, boost::test_tools::tolerance(1e-10));
}

BOOST_AUTO_TEST_SUITE_END()
