// An engine that faces the other way round: gates told in reverse order, or a decoder that turns the motor round.
#include <algorithm>
#include <boost/test/unit_test.hpp>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

void check_all_proved(Plan plan) {
  Night night(std::move(plan));
  night.tune();
  BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
  const Tally sum = tally(night);
  BOOST_TEST(sum.proved >= 54);
  BOOST_TEST(sum.attainable_missed == 0);
  BOOST_TEST(sum.worst_error < 1.25);
  BOOST_TEST(night.rig().buffer_hits() == 0u);
  night.settle();
  check_lent_put_back(night);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(facing)

BOOST_AUTO_TEST_CASE(trap_told_the_other_way_round) {
  for (const std::uint64_t seed : seeds(801, 2)) {
    BOOST_TEST_CONTEXT("seed " << seed) {
      Plan plan = loop_night(plain_engine(), seed);
      std::swap(plan.order.trap.low_gate, plan.order.trap.high_gate);
      check_all_proved(std::move(plan));
    }
  }
}

BOOST_AUTO_TEST_CASE(decoder_reverses_the_motor) {
  for (const std::uint64_t seed : seeds(811, 2)) {
    BOOST_TEST_CONTEXT("seed " << seed) {
      simulated::EngineDescription engine = plain_engine();
      engine.decoder.cvs[cv::configuration] = 0x13;  // bit 0 of CV29: direction reversed (S-9.2.2 CV29)
      Plan plan = loop_night(engine, seed);
      plan.railway.start_mm = 1800;  // it comes to the trap from the far side
      check_all_proved(std::move(plan));
    }
  }
}

BOOST_AUTO_TEST_CASE(trap_told_the_other_way_round_on_a_shuttle) {
  for (const std::uint64_t seed : seeds(821, 1)) {
    BOOST_TEST_CONTEXT("seed " << seed) {
      Plan plan = shuttle_night(plain_engine(), seed);
      std::swap(plan.order.trap.low_gate, plan.order.trap.high_gate);
      std::swap(plan.order.clear_below_mm, plan.order.clear_above_mm);
      check_all_proved(std::move(plan));
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
