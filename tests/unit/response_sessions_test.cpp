// What an earlier session's passes are worth to the response: the curve, but for a shift that today's passes tell.
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "tuning/response.h"

namespace lapwright {
namespace {

/// Another formula than the model's. It lacks 2 % when cold.
struct SteadyEngine {
  double change = 0;  ///< share of speed since the earlier session
  [[nodiscard]] double warm(double drive, Direction direction) const {
    const double speed = 0.105 * std::max(drive - 14, 0.0) * (1 + 0.1 * std::tanh(drive / 110));
    return (1 + change) * (direction == Direction::forward ? speed : 0.98 * speed);
  }
  [[nodiscard]] double at(double drive, Direction direction, double running_s) const {
    return warm(drive, direction) * (1 - 0.02 * std::exp(-running_s / 170));
  }
};

Observation pass_of(const SteadyEngine& engine, double drive, Direction direction, double running_s, int sessions_ago,
                    std::mt19937& luck) {
  std::normal_distribution<> normal;
  const double speed = engine.at(drive, direction, running_s) * (1 + 0.003 * normal(luck));
  return {drive, direction, speed, running_s, 0.001, sessions_ago};
}

/// A whole tune some sessions ago, fast to slow, then again and warm.
Response tuned_before(std::mt19937& luck) {
  Response response;
  double running_s = 20;
  for (int round = 0; round < 2; ++round) {
    for (double drive = 150; drive >= 30; drive -= 6) {
      const Direction direction = static_cast<int>(drive / 6) % 2 == 0 ? Direction::forward : Direction::reverse;
      response.add(pass_of(SteadyEngine(), drive, direction, running_s, 1, luck));
      running_s += 12;
    }
  }
  response.refit();
  return response;
}

const std::vector<Query> asked = {{130, Direction::forward}, {95, Direction::reverse}, {57, Direction::forward}};

}  // namespace

BOOST_AUTO_TEST_SUITE(response_sessions)

BOOST_AUTO_TEST_CASE(without_a_pass_of_today_they_leave_a_doubt) {
  std::mt19937 luck(5);
  Response response = tuned_before(luck);
  for (const Estimate& estimate : response.warm(asked)) BOOST_TEST(estimate.sd > 0.008 * estimate.mean);
  BOOST_TEST(response.longest_s() == 0);
  BOOST_TEST(response.passes_at({150, Direction::reverse}) == 0);
  BOOST_TEST(response.passes_at({150, Direction::reverse}, true) > 0);
}

BOOST_AUTO_TEST_CASE(a_few_passes_of_today_tell_all_drives) {
  int within = 0;
  int all = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 luck(seed);
    const SteadyEngine today{0.025 * std::normal_distribution<>()(luck) / 2};
    Response response = tuned_before(luck);
    double running_s = 10;
    for (const double drive : {150.0, 112.0, 76.0}) {
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        response.add(pass_of(today, drive, direction, running_s, 0, luck));
        running_s += 8;
      }
    }
    const std::vector<Estimate> estimates = response.warm(asked);
    const std::vector<Estimate> shifts = response.shifts(asked);
    for (std::size_t i = 0; i < asked.size(); ++i) {
      const double truth = today.warm(asked[i].drive, asked[i].direction);
      const double then = SteadyEngine().warm(asked[i].drive, asked[i].direction);
      BOOST_TEST(estimates[i].sd < 0.008 * truth + 0.03);
      BOOST_TEST(std::abs(shifts[i].mean - (then - truth)) < 4 * shifts[i].sd + 0.005 * then);
      within += std::abs(estimates[i].mean - truth) < 1.96 * estimates[i].sd ? 1 : 0;
      ++all;
    }
  }
  BOOST_TEST(within >= 0.9 * all, within << " of " << all);
}

BOOST_AUTO_TEST_CASE(two_earlier_sessions_shift_apart) {
  std::mt19937 luck(9);
  Response response = tuned_before(luck);
  const SteadyEngine faster{0.02};
  for (double drive = 150; drive >= 30; drive -= 20) {
    response.add(pass_of(faster, drive, Direction::forward, 400, 2, luck));
  }
  response.refit();
  const std::vector<Estimate> shifts = response.shifts(asked);
  for (const Estimate& estimate : response.warm(asked)) BOOST_TEST(std::isfinite(estimate.mean));
  for (const Estimate& shift : shifts) BOOST_TEST(shift.sd > 0);
}

BOOST_AUTO_TEST_CASE(what_is_not_of_this_engine_can_be_forgotten) {
  std::mt19937 luck(6);
  Response response = tuned_before(luck);
  const SteadyEngine other{0.3};
  Response alone;
  alone.assume(response.scales());
  for (int i = 0; i < 8; ++i) {
    const Observation pass = pass_of(other, 40 + 15 * i, Direction::forward, 30 + 10 * i, 0, luck);
    response.add(pass);
    alone.add(pass);
  }
  response.forget_earlier();
  BOOST_TEST(response.size() == alone.size());
  const std::vector<Query> there = {{85, Direction::forward}};
  BOOST_TEST(std::abs(response.warm(there).front().mean - alone.warm(there).front().mean) < 0.1);
  Response empty = tuned_before(luck);
  empty.forget_earlier();
  BOOST_TEST(empty.size() == 0U);
  empty.add(pass_of(other, 100, Direction::forward, 30, 0, luck));
  BOOST_TEST(empty.size() == 1U);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
