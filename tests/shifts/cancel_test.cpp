// Whatever the end is, momentum goes back: a tune cancelled at random moments.
#include <boost/test/unit_test.hpp>

#include "drivers/simulated/random.h"
#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

void cancel_and_check(const Plan& plan, double after_s) {
  Night night(plan);
  const bool cancelled = night.tune_and_cancel(after_s);
  BOOST_TEST(cancelled, "the tune was through before it could be cancelled");
  night.settle();
  check_lent_put_back(night);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(cancelled)

BOOST_AUTO_TEST_CASE(momentum_goes_back_at_any_time) {
  for (const std::uint64_t seed : seeds(501, 10)) {
    simulated::Random moments(seed);
    const double late_s = moments.uniform(3, 350);
    const double early_s = moments.uniform(0, 3);  // while momentum is being lent
    for (const double after_s : {early_s, late_s}) {
      BOOST_TEST_CONTEXT("ganger, seed " << seed << ", cancelled after " << after_s << " s") {
        cancel_and_check(loop_night(from_shed("ganger"), seed), after_s);
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(momentum_that_was_read_goes_back_too) {
  simulated::EngineDescription engine = from_shed("tarnside_flyer");
  for (int moment = 0; moment < 60; ++moment) {
    const double after_s = 0.02 * moment;  // across reading and lending, one after the other
    BOOST_TEST_CONTEXT("tarnside_flyer, cancelled after " << after_s << " s") {
      Plan plan = loop_night(engine, 521);
      tell_record(plan, {});
      cancel_and_check(plan, after_s);
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
