// A check: steps of a tuned engine measured without writing, momentum and all, on each kind of track.
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

const std::vector<int> checked = {4, 11, 18, 28};
constexpr double full_s = 0.896;  // of CV3 and CV4, for each unit, from standing to full speed: S-9.2.2

void check_with_momentum(const Plan& plan) {
  Night tuned(plan);
  tuned.tune();
  BOOST_REQUIRE((tuned.result().end == TuneEnd::complete));
  Night evening(plan);
  evening.take_decoder_of(tuned);
  for (const int number : {cv::acceleration, cv::deceleration}) {
    evening.rig().decoder().set_cv(number, static_cast<std::uint8_t>(tuned.cv_at_first(number)));
  }
  const Momentum momentum{full_s * tuned.cv_at_first(cv::acceleration), full_s * tuned.cv_at_first(cv::deceleration)};
  BOOST_TEST(momentum.gather_s > 5);
  evening.check(checked, momentum);
  BOOST_TEST((evening.result().end == TuneEnd::complete), evening.result().detail);
  BOOST_TEST(evening.most_writes_of_one_cv() == 0);
  BOOST_TEST(evening.rig().buffer_hits() == 0U);
  BOOST_REQUIRE(evening.result().cells.size() == 2 * checked.size());
  for (const CellResult& cell : evening.result().cells) {
    BOOST_TEST_CONTEXT("step " << cell.step << (cell.direction == Direction::forward ? " forward" : " in reverse")) {
      BOOST_TEST(cell.passes > 0);
      const double true_mm_s = evening.true_speed_mm_s(cell.step, cell.direction);
      BOOST_TEST(std::abs(cell.speed_mm_s - true_mm_s) <= 0.75 * cell.tolerance_mm_s,
                 cell.speed_mm_s << " mm/s read, " << true_mm_s << " true");
      BOOST_TEST((cell.verdict != Verdict::failed));
    }
  }
}

/// So much shorter at each end that an engine with its momentum's way to gather speed beyond the trap would not fit.
Plan shorter_shuttle_night(std::uint64_t seed, double cut_mm) {
  Plan plan = shuttle_night(plain_engine(), seed);
  plan.railway.length_mm -= 2 * cut_mm;
  *plan.railway.start_mm -= cut_mm;
  for (Gate& gate : plan.railway.gates) gate.position_mm -= cut_mm;
  plan.order.track = simulated::as_told(plan.railway);
  plan.order.clear_below_mm -= cut_mm;
  plan.order.clear_above_mm -= cut_mm;
  return plan;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(check)

BOOST_AUTO_TEST_CASE(on_a_loop) { check_with_momentum(loop_night(plain_engine(), 741)); }

BOOST_AUTO_TEST_CASE(on_a_shuttle) {
  for (const std::uint64_t seed : seeds(742, 3)) check_with_momentum(shuttle_night(plain_engine(), seed));
}

BOOST_AUTO_TEST_CASE(on_a_shuttle_without_room_to_spare) {
  for (const double cut_mm : {100.0, 200.0}) check_with_momentum(shorter_shuttle_night(744, cut_mm));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
