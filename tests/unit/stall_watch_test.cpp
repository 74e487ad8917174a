// A blocked motor by its current. The currents are invented; that a held motor draws several times what a running one
// does is common practice, no source.
#include "drivers/safety/stall_watch.h"

#include <boost/test/unit_test.hpp>

#include "tuning/others_current.h"

using namespace lapwright;

namespace {

struct StalledEngine {
  StallWatch watch{StallLimits{}};
  double now_s = 0;
  double passages_every_s = 2;
  int step = 10;

  /// When it was found blocked, counted from the first reading of this call.
  double draw(double current_mA, double length_s, bool passes) {
    const double began_s = now_s;
    double passage_s = now_s + passages_every_s;
    for (; now_s < began_s + length_s; now_s += 0.01) {
      const Instant now = Instant{} + seconds(now_s);
      watch.commanded(step);
      if (passes && now_s >= passage_s) {
        watch.passage();
        passage_s += passages_every_s;
      }
      if (watch.feed(now, current_mA)) return now_s - began_s;
    }
    return -1;
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(stall_watch, StalledEngine)

BOOST_AUTO_TEST_CASE(far_more_current_and_no_passage_is_a_stall) {
  BOOST_TEST(draw(60, 20, true) == -1);
  const double after_s = draw(400, 20, false);
  BOOST_TEST(after_s > 8);
  BOOST_TEST(after_s < 9);
  BOOST_TEST(watch.usual_mA() == 60, boost::test_tools::tolerance(0.01));
  BOOST_TEST(watch.mean_mA() == 400, boost::test_tools::tolerance(0.01));
}

BOOST_AUTO_TEST_CASE(who_still_passes_gates_is_not_stalled) {
  BOOST_TEST(draw(60, 20, true) == -1);
  BOOST_TEST(draw(400, 30, true) == -1);  // a grade, a heavy train
}

BOOST_AUTO_TEST_CASE(a_little_more_current_is_none) {
  BOOST_TEST(draw(60, 20, true) == -1);
  BOOST_TEST(draw(140, 60, false) == -1);
}

BOOST_AUTO_TEST_CASE(standing_engines_are_not_judged) {
  BOOST_TEST(draw(60, 20, true) == -1);
  step = 0;
  BOOST_TEST(draw(400, 60, false) == -1);
}

BOOST_AUTO_TEST_CASE(nobody_knows_what_a_higher_step_draws) {
  BOOST_TEST(draw(30, 20, true) == -1);
  step = 20;
  BOOST_TEST(draw(120, 60, false) == -1);
  BOOST_TEST(draw(120, 20, true) == -1);
  BOOST_TEST(draw(400, 60, false) > 0);
}

BOOST_AUTO_TEST_CASE(before_three_passages_nothing_is_known) {
  passages_every_s = 9;
  BOOST_TEST(draw(60, 20, true) == -1);
  BOOST_TEST(draw(400, 60, false) == -1);
}

BOOST_AUTO_TEST_CASE(what_passes_while_it_stands_tells_nothing) {
  step = 0;
  BOOST_TEST(draw(60, 20, true) == -1);
  BOOST_TEST(watch.usual_mA() == 0);
  BOOST_TEST(!watch.reads_nothing());
}

BOOST_AUTO_TEST_CASE(a_sensor_that_reads_nothing_is_known_after_a_while_of_running) {
  BOOST_TEST(draw(0, 2, true) == -1);
  BOOST_TEST(!watch.reads_nothing());
  BOOST_TEST(draw(0, 2, true) == -1);
  BOOST_TEST(watch.reads_nothing());
  BOOST_TEST(draw(30, 5, true) == -1);
  BOOST_TEST(!watch.reads_nothing());
}

BOOST_AUTO_TEST_CASE(a_sensor_whose_zero_lies_below_nothing_reads_a_running_engine) {
  watch.zero_is(-13);
  BOOST_TEST(draw(-8, 5, true) == -1);
  BOOST_TEST(!watch.reads_nothing());
  BOOST_TEST(draw(-13, 10, true) == -1);
  BOOST_TEST(watch.reads_nothing());
}

BOOST_AUTO_TEST_CASE(a_sensor_that_reads_next_to_nothing_makes_no_stall) {
  BOOST_TEST(draw(1, 20, true) == -1);
  BOOST_TEST(draw(15, 60, false) == -1);
}

// Ten engines stand in staging tracks and draw 300 mA. The one that runs takes it to 360; held, it takes it to 700:
// less than two and a half times all, far more than that of its own.
BOOST_AUTO_TEST_CASE(what_others_draw_is_not_the_engines) {
  step = 0;
  BOOST_TEST(draw(300, 5, false) == -1);
  step = 10;
  BOOST_TEST(draw(360, 20, true) == -1);
  BOOST_TEST(draw(500, 60, false) == -1);  // 260 and two and a half times 100
  const double after_s = draw(700, 20, false);
  BOOST_TEST(after_s > 8);
  BOOST_TEST(after_s < 9);
}

// Told to run before its standing was read for long enough, it counts as alone on the track.
BOOST_AUTO_TEST_CASE(a_short_stand_tells_nothing_of_others) {
  step = 0;
  BOOST_TEST(draw(300, 0.5, false) == -1);
  step = 10;
  BOOST_TEST(draw(360, 20, true) == -1);
  BOOST_TEST(draw(700, 60, false) == -1);
}

// Before the first start it was least; later its own motor's current still fades.
BOOST_AUTO_TEST_CASE(the_least_standing_current_counts) {
  step = 0;
  BOOST_TEST(draw(20, 5, false) == -1);
  step = 10;
  BOOST_TEST(draw(200, 20, true) == -1);
  step = 0;
  BOOST_TEST(draw(150, 1, false) == -1);
  step = 10;
  BOOST_TEST(draw(200, 5, true) == -1);
  BOOST_TEST(draw(450, 60, false) == -1);
}

BOOST_AUTO_TEST_CASE(one_engines_standing_current_is_its_own) {
  BOOST_TEST(drawn_by_others_mA(std::nullopt) == 0);
  BOOST_TEST(drawn_by_others_mA(38) == 0);
  BOOST_TEST(drawn_by_others_mA(300) == 260);
}

BOOST_AUTO_TEST_SUITE_END()
