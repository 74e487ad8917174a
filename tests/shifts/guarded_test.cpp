// Whole jobs before the guard: engines in order are never stopped, and what goes wrong ends as it must.
#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <fstream>

#include "daemon/store/durable_file.h"
#include "tests/shifts/guarded_night.h"
#include "tests/temporary_folder.h"
#include "tuning/cv.h"

namespace lapwright::shifts {
namespace {

Plan three_gates(Plan plan) {
  plan.railway.gates.push_back(plan.railway.gates.back());
  plan.railway.gates.back().name = "far";
  plan.railway.gates.back().position_mm += 2000;
  plan.order.track = simulated::as_told(plan.railway);
  return plan;
}

void check_never_stopped(GuardedNight& night) {
  BOOST_TEST(night.reason() == "none", (night.result().stop ? night.result().stop->sentence : ""));
  BOOST_TEST((night.result().tune.end == TuneEnd::complete), night.result().tune.detail);
  BOOST_TEST(night.result().owed.empty());
  BOOST_TEST(!night.rig().railway().power());
}

/// Track dead, momentum back, and nothing that was measured forgotten.
void check_good_order(GuardedNight& night, const std::string& reason) {
  BOOST_TEST(night.reason() == reason, (night.result().stop ? night.result().stop->sentence : "no stop"));
  BOOST_TEST(!night.rig().railway().power());
  BOOST_TEST(night.result().owed.empty());
  BOOST_TEST(night.cv(cv::acceleration) == 28);
  BOOST_TEST(night.cv(cv::deceleration) == 20);
  BOOST_TEST(night.result().tune.passes > 0);
}

boost::test_tools::assertion_result not_slow(boost::unit_test::test_unit_id) { return !slow_run(); }

int proved(const JobResult& result) {
  int sum = 0;
  for (const CellResult& cell : result.tune.cells) sum += cell.verdict == Verdict::proved ? 1 : 0;
  return sum;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(guarded)

BOOST_AUTO_TEST_CASE(no_engine_in_order_is_stopped) {
  for (const auto& file : std::filesystem::directory_iterator(LAPWRIGHT_CONFIGS "/engines")) {
    const std::string name = file.path().stem();
    if (slow_run() && name != "carrow_moss" && name != "fellbeck") continue;
    for (const std::uint64_t seed : seeds(301, 1)) {
      BOOST_TEST_CONTEXT(name << ", loop, seed " << seed) {
        GuardedNight night(loop_night(from_shed(name), seed));
        night.run();
        check_never_stopped(night);
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(nor_on_any_other_layout) {
  for (const std::uint64_t seed : seeds(311, 2)) {
    for (const std::string name : {"carrow_moss", "fellbeck", "ganger"}) {
      if (slow_run() && name != "carrow_moss") continue;
      BOOST_TEST_CONTEXT(name << ", seed " << seed) {
        GuardedNight shuttle(shuttle_night(from_shed(name), seed));
        shuttle.run();
        check_never_stopped(shuttle);
        BOOST_TEST(shuttle.rig().buffer_hits() == 0u);
        GuardedNight more(three_gates(loop_night(from_shed(name), seed)));
        more.run();
        check_never_stopped(more);
      }
    }
  }
}

// A silent decoder's engine is first looked for twice, and what the gates saw the first time is no news the second
// time.
BOOST_AUTO_TEST_CASE(nor_a_silent_one_on_a_shuttle) {
  for (const auto& [name, seed] :
       {std::pair("bracken", 1502), std::pair("low_fell", 1504), std::pair("nettle", 1607)}) {
    if (slow_run() && seed != 1502) continue;
    BOOST_TEST_CONTEXT(name << ", seed " << seed) {
      GuardedNight night(shuttle_night(from_shed(name), static_cast<std::uint64_t>(seed)));
      night.run();
      check_never_stopped(night);
      BOOST_TEST(night.rig().buffer_hits() == 0U);
    }
  }
}

// It sticks between the gates when they see it first: how fast it is when it gets free they can't tell, and it is not
// to run on into the buffers.
BOOST_AUTO_TEST_CASE(one_that_sticks_at_first_sight_on_a_shuttle_is_taken_back) {
  for (const std::uint64_t seed : seeds(331, 3)) {
    GuardedNight night(shuttle_night(from_shed("carrow_moss"), seed));
    std::optional<double> stuck_s;
    double farthest_mm = 0;
    night.each_100ms = [&](double now_s) {
      const double at_mm = night.rig().engine().position_mm();
      farthest_mm = std::max(farthest_mm, at_mm);
      if (!stuck_s && at_mm > 1500) stuck_s = now_s;  // the gates are at 1425 and 1575 mm
      night.rig().hold_engine(stuck_s && now_s < *stuck_s + 40);
    };
    night.run();
    check_never_stopped(night);
    BOOST_TEST(night.rig().buffer_hits() == 0U);
    BOOST_TEST_MESSAGE("stuck at " << *stuck_s << " s, came as far as " << farthest_mm << " mm");
  }
}

BOOST_AUTO_TEST_CASE(nor_where_laps_are_timed, *boost::unit_test::precondition(not_slow)) {
  GuardedNight laps(lap_night(plain_engine(), 312));
  laps.run();
  BOOST_TEST_MESSAGE("virtual time " << laps.now_s() << " s, " << laps.waits().size() << " pauses told");
  check_never_stopped(laps);
}

BOOST_AUTO_TEST_CASE(an_engine_that_ran_for_long_rests_and_goes_on) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 321));
  night.limits.running.continuous_s = 150;
  night.limits.running.rest_s = 200;
  night.run();
  check_never_stopped(night);
  BOOST_TEST(night.longest_stand_s() > 195);
  BOOST_TEST(night.longest_stand_s() < 215);
  BOOST_TEST(proved(night.result()) >= 50);
  BOOST_REQUIRE(night.waits().size() >= 2);
  BOOST_TEST(night.waits()[0].find("rests for 3 min") != std::string::npos, night.waits()[0]);
  BOOST_TEST(night.waits()[1].empty());
}

BOOST_AUTO_TEST_CASE(running_time_that_is_used_up_ends_a_job_in_good_order) {
  const TemporaryFolder folder;
  GuardedNight night(loop_night(from_shed("fellbeck"), 322));
  night.state = folder.path();
  night.caps.day_s = 100;
  night.run();
  check_good_order(night, "running-time");
  BOOST_TEST(night.memory().caps("Fellbeck no. 7")[1].left_s < 0);
  BOOST_TEST(night.memory().caps("Fellbeck no. 7")[1].left_s > -2);
  BOOST_TEST(!night.memory().trip().has_value());  // nobody has to clear it
  // The same day, after a restart: nothing is left of it.
  GuardedNight again(loop_night(from_shed("fellbeck"), 322));
  again.state = folder.path();
  again.caps.day_s = 100;
  again.run();
  BOOST_TEST(again.reason() == "running-time");
  BOOST_TEST(again.rig().distance_mm() < 20);
}

BOOST_AUTO_TEST_CASE(the_end_of_the_allowed_hours_is_one_of_good_order) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 323));
  const std::time_t midnight = night.begins - night.begins % 86400;  // the tests' own zone is UTC
  ::setenv("TZ", "UTC0", 1);
  ::tzset();
  night.begins = midnight + 6 * 3600 + 28 * 60 + 30;
  night.hours = AllowedHours({HourWindow{22 * 60, 6 * 60 + 30}});
  night.run();
  check_good_order(night, "hours-over");
  BOOST_TEST(night.dead_at_s() > 90);
  BOOST_TEST(night.dead_at_s() < 90 + 6 + 5);
}

BOOST_AUTO_TEST_CASE(a_blocked_engine_is_pushed_and_then_given_up) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 324));
  double held_s = 0;
  night.each_100ms = [&](double now_s) {
    if (now_s < 120 || held_s > 0) return;
    held_s = now_s;
    night.rig().hold_engine(true);
  };
  const TemporaryFolder folder;
  night.state = folder.path();
  night.run();
  check_good_order(night, "stalled");
  BOOST_TEST(night.result().stop->sentence.find("between gate") != std::string::npos, night.result().stop->sentence);
  BOOST_TEST(night.dead_at_s() - held_s < 30);
  BOOST_REQUIRE(night.memory().trip().has_value());
  BOOST_TEST(night.memory().trip()->code == "stalled");
}

BOOST_AUTO_TEST_CASE(an_engine_that_was_held_for_a_moment_goes_on, *boost::unit_test::precondition(not_slow)) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 325));
  night.each_100ms = [&](double now_s) { night.rig().hold_engine(now_s >= 120 && now_s < 124); };
  night.run();
  check_never_stopped(night);
}

BOOST_AUTO_TEST_CASE(a_derailed_engine_is_given_up, *boost::unit_test::precondition(not_slow)) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 326));
  night.each_100ms = [&](double now_s) {
    if (now_s >= 120) night.rig().lift_engine(true);
  };
  night.run();
  BOOST_TEST((night.reason() == "stalled" || night.reason() == "no-passage"), night.reason());
  BOOST_TEST(!night.rig().railway().power());
  // Three laps at the speed that the tune searches at, about 90 mm/s, and a minute for what it waited for before.
  BOOST_TEST(night.dead_at_s() < 120 + 3 * 6000 / 90.0 + 60);
}

BOOST_AUTO_TEST_CASE(what_can_not_be_kept_is_not_measured) {
  const TemporaryFolder folder;
  GuardedNight night(loop_night(from_shed("fellbeck"), 327));
  night.state = folder.path() / "state";
  bool gone = false;
  night.each_100ms = [&](double now_s) {
    if (now_s < 90 || gone) return;
    gone = true;
    std::filesystem::remove_all(night.state);
    std::ofstream(night.state) << "in the way";
  };
  night.run();
  check_good_order(night, "storage-lost");
  BOOST_TEST(night.dead_at_s() < 90 + 61 + 5);  // it is tried once a minute
  BOOST_REQUIRE(night.result().fault);
  BOOST_CHECK_THROW(std::rethrow_exception(night.result().fault), FileLost);
}

// A disk that neither writes nor fails: nobody may wait for it while an engine runs round and round.
BOOST_AUTO_TEST_CASE(a_disk_that_hangs_ends_the_job_in_good_order) {
  GuardedNight night(loop_night(from_shed("fellbeck"), 328));
  night.disk_s = [](double now_s) { return now_s < 90 ? 0.2 : 1000.0; };
  night.run();
  check_good_order(night, "storage-lost");
  BOOST_TEST(night.result().stop->sentence.find("the disk is busy with it for more than 15 s") != std::string::npos,
             night.result().stop->sentence);
  BOOST_TEST(night.dead_at_s() < 90 + 60 + 15 + 5);  // it is tried once a minute
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
