// Running on end and the rest after it, and the caps on running time. All times are invented.
#include "drivers/safety/running_watch.h"

#include <boost/test/unit_test.hpp>

using namespace lapwright;

namespace {

Instant at_s(double s) { return Instant{} + seconds(s); }

struct HalfHours {
  RunningWatch watch{RunningLimits{}, Instant{}};
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(running_watch, HalfHours)

BOOST_AUTO_TEST_CASE(half_an_hour_on_end_and_then_ten_minutes_of_rest) {
  watch.runs(at_s(0), true);
  BOOST_TEST(watch.rest_due_s(at_s(1799)) == 0);
  BOOST_TEST(watch.rest_due_s(at_s(1800)) == 600, boost::test_tools::tolerance(1e-9));
  watch.runs(at_s(1810), false);
  BOOST_TEST(watch.rest_due_s(at_s(1810 + 300)) > 290);
  BOOST_TEST(watch.rest_due_s(at_s(1810 + 604)) == 0);
  BOOST_TEST(watch.running_s(at_s(3000)) == 1810, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(a_rest_is_taken_in_full_once_it_is_due) {
  watch.runs(at_s(0), true);
  BOOST_TEST(watch.rest_due_s(at_s(1800)) > 0);
  watch.runs(at_s(1800), false);
  BOOST_TEST(watch.rest_due_s(at_s(2100)) > 299);
  watch.runs(at_s(2100), true);
  BOOST_TEST(watch.rest_due_s(at_s(2101)) > 299);  // still
}

BOOST_AUTO_TEST_CASE(an_engine_that_stands_now_and_then_runs_on_for_longer) {
  for (int round = 0; round < 6; ++round) {  // 900 s of running, 310 s of standing
    watch.runs(at_s(round * 1210), true);
    BOOST_TEST(watch.rest_due_s(at_s(round * 1210 + 899)) == 0);
    watch.runs(at_s(round * 1210 + 900), false);
  }
  BOOST_TEST(watch.running_s(at_s(6 * 1210)) == 5400, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(who_does_not_see_to_the_rest_is_overdue) {
  watch.runs(at_s(0), true);
  BOOST_TEST(!watch.overdue(at_s(1800)));
  BOOST_TEST(!watch.overdue(at_s(1979)));
  BOOST_TEST(watch.overdue(at_s(1981)));
  watch.runs(at_s(1990), false);
  BOOST_TEST(!watch.overdue(at_s(2100)));  // it stands
}

BOOST_AUTO_TEST_CASE(what_an_engine_ran_before_counts) {
  RunningLimits limits;
  limits.tired_s = 1500;
  watch = RunningWatch(limits, at_s(5000));
  watch.runs(at_s(5000), true);
  BOOST_TEST(watch.rest_due_s(at_s(5299)) == 0);
  BOOST_TEST(watch.rest_due_s(at_s(5301)) > 599);
  BOOST_TEST(watch.running_s(at_s(5301)) == 301);  // in this job
  watch = RunningWatch(limits, at_s(5000));
  watch.runs(at_s(5100), true);  // 100 s of standing are worth 300 of running
  BOOST_TEST(watch.tired_s(at_s(5100)) == 1200, boost::test_tools::tolerance(1e-9));
  limits.tired_s = 9000;
  watch = RunningWatch(limits, at_s(0));
  BOOST_TEST(watch.rest_due_s(at_s(0)) == 600, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(every_cap_counts_and_says_which_it_is) {
  RunningLimits limits;
  limits.caps = {{"of one engine in one job", 5000, 5000}, {"of one engine in a day", 9000, 400}};
  watch = RunningWatch(limits, Instant{});
  watch.runs(at_s(0), true);
  BOOST_TEST(!watch.look(at_s(400)).has_value());
  const auto stop = watch.look(at_s(401));
  BOOST_REQUIRE(stop);
  BOOST_TEST(code(stop->reason) == "running-time");
  BOOST_TEST(stop->sentence.find("of one engine in a day is used up, 9000 s") != std::string::npos, stop->sentence);
  BOOST_TEST((action(stop->reason) == StopAction::park));
  BOOST_TEST(!latches(stop->reason));
}

BOOST_AUTO_TEST_SUITE_END()
