// How far a shuttle's engine may have come beyond the outermost gate, by the speeds that the gates have shown. Track
// and speeds are invented; distances are reckoned by hand in the comments.
#include "drivers/safety/track_end_watch.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

constexpr auto outward = Direction::forward;
constexpr auto homeward = Direction::reverse;

/// 2400 mm between the buffers, gates at 1000 and 1150 mm.
struct Straight {
  Straight() {
    track.shape = TrackShape::shuttle;
    track.length_mm = 2400;
    track.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
    watch.emplace(track, BrakingLimits{}, ShownSpeeds{});
  }
  static Instant at(double s) { return Instant{} + seconds(s); }
  void command(double s, int step, Direction direction) {
    watch->commanded(at(s), ThrottleCommand{step, direction, StepMode::steps28});
  }
  [[nodiscard]] bool passes(double s, int gate, int way, std::optional<double> speed_mm_s = std::nullopt,
                            std::optional<double> mean_mm_s = std::nullopt) {
    const GatePassage passage{gate, GateEdge{gate, true, static_cast<std::uint32_t>(s * 1e6), 1, at(s)}, false, true};
    return watch->passage(passage, way, LegSpeeds{speed_mm_s, mean_mm_s, false}).has_value();
  }
  [[nodiscard]] bool stops(double s) { return watch->look(at(s)).has_value(); }

  TestTrack track;
  std::optional<TrackEndWatch> watch;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(track_end_watch, Straight)

// Seen: step 5 at 50 mm/s, step 20 at 150. Step 10 may be as fast as step 20, with a quarter to spare: 187.5 mm/s,
// which needs 58.6 mm to stop. Of the 1230 mm that are left at the gate 1171 are used up after 6.25 s.
BOOST_AUTO_TEST_CASE(a_step_not_seen_yet_may_be_as_fast_as_the_next_higher_one) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  command(2, 5, homeward);
  BOOST_TEST(!passes(3, 1, -1));
  command(4, 5, outward);
  BOOST_TEST(!passes(20, 1, 1, 50));
  command(20, 10, outward);
  BOOST_TEST(!stops(26.2));
  BOOST_TEST(stops(26.3));
}

// 165.4 mm of 1230 are used up before it turns; half a minute later it is reckoned with 150 x 1.186 = 178 mm/s, which
// needs 55 mm to stop: 1009 mm last for 5.7 s.
BOOST_AUTO_TEST_CASE(what_it_runs_back_is_not_counted) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  command(2, 20, homeward);
  BOOST_TEST(!stops(29));
  command(30, 20, outward);
  BOOST_TEST(!stops(30));
  BOOST_TEST(!stops(35.5));
  BOOST_TEST(stops(35.8));
}

// 20 mm/s at first, a tenth more for what one passage can't tell, and a quarter more once it has warmed for a minute:
// 22 t + t^2 / 40 mm in t seconds, and 6 mm to stop: 1224 mm last for 52.5 s.
BOOST_AUTO_TEST_CASE(who_creeps_out_warms_on_the_way) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 20));
  for (int tenth = 10; tenth <= 530; ++tenth) BOOST_REQUIRE_MESSAGE(!stops(0.1 * tenth), tenth);
  BOOST_TEST(stops(54));
}

BOOST_AUTO_TEST_CASE(who_stands_goes_no_further) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  watch->stand(at(5));
  BOOST_TEST(!stops(60));
  command(60, 20, outward);
  BOOST_TEST(!stops(62));
}

// It comes back from 44 mm before the end, at up to 330 mm/s, which needs 119 mm to stop: between the gates that is
// nothing to stop for.
BOOST_AUTO_TEST_CASE(between_the_gates_there_is_room) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 300));
  command(2, 20, homeward);
  BOOST_TEST(!passes(3, 1, -1));
  BOOST_TEST(!passes(4, 0, -1, 150));  // 980 mm are left
  command(9.6, 20, outward);           // 150 x 1.114 mm/s for 5.6 s
  BOOST_TEST(!passes(12, 0, 1));
  BOOST_TEST(!stops(13));
}

// Its step was raised between the gates, 100 mm/s in the mean: 200 mm/s are reckoned with, which need 63.3 mm to stop.
// Of 1230 mm, 1166.7 are used up after 5.83 s.
BOOST_AUTO_TEST_CASE(an_engine_whose_steps_are_not_known_is_reckoned_with_as_well) {
  command(0, 3, outward);
  BOOST_TEST(!passes(1, 1, 1, std::nullopt, 100));
  BOOST_TEST(!stops(6.8));
  BOOST_TEST(stops(6.9));
}

// The gate at 1900 mm counts for the end: at up to 166.5 mm/s 51 mm are needed to stop, and of 730 mm 679 are used up
// after 4.1 s.
// Step 20 ran at 300 mm/s before the break; 375 are reckoned with as long as it has not shown here how fast it is,
// which need 140.6 mm to stop: of 1230 mm, 1089.4 are used up after 2.9 s. Seen here, up to 112.6 mm/s: 32 mm, 10.6 s.
BOOST_AUTO_TEST_CASE(what_the_gates_have_shown_before_a_break_counts_until_they_show_it_anew) {
  watch.emplace(track, BrakingLimits{}, ShownSpeeds{{{20, outward}, 300}});
  command(0, 5, outward);
  BOOST_TEST(!passes(1, 1, 1, 50));
  command(1, 20, outward);
  BOOST_TEST(!stops(3.85));
  BOOST_TEST(stops(3.95));
  command(4, 20, homeward);
  BOOST_TEST(!passes(5, 1, -1));
  command(10, 20, outward);
  BOOST_TEST(!passes(11, 1, 1, 100));
  BOOST_TEST(!stops(21.5));
  BOOST_TEST(stops(21.8));
}

// What no gate has shown yet in either session may be as fast as the next higher step was before: 187.5 mm/s, 6.25 s.
BOOST_AUTO_TEST_CASE(nor_is_a_step_faster_than_a_higher_one_before_the_break) {
  watch.emplace(track, BrakingLimits{}, ShownSpeeds{{{20, homeward}, 150}, {{28, outward}, 300}});
  command(0, 10, outward);
  BOOST_TEST(!passes(1, 1, 1));
  BOOST_TEST(!stops(7.2));
  BOOST_TEST(stops(7.3));
}

// A test of what the trims do has run it at 60 mm/s; since then it is at 120 again. Twice as fast may have been a
// missed edge; that it comes again is no accident: up to 140 mm/s need 42 mm to stop, and 1188 mm last for 8.5 s.
BOOST_AUTO_TEST_CASE(a_step_that_has_become_much_faster_is_believed_the_second_time) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 60));
  BOOST_TEST(!passes(11, 1, 1, 120));
  BOOST_TEST(!stops(21));  // up to 67.5 mm/s
  command(21, 20, homeward);
  BOOST_TEST(!passes(22, 1, -1));
  command(23, 20, outward);
  BOOST_TEST(!passes(31, 1, 1, 125));
  BOOST_TEST(!stops(39.3));
  BOOST_TEST(stops(39.6));
}

// It stuck between the gates for some seconds: at 150 mm/s before, it is reckoned with 168 at 10 s, which need 52 mm.
BOOST_AUTO_TEST_CASE(who_stuck_on_the_way_is_no_slower_for_it) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  command(2, 20, homeward);
  BOOST_TEST(!passes(3, 1, -1));
  command(4, 20, outward);
  BOOST_TEST(!passes(20, 1, 1, 20));
  BOOST_TEST(!stops(26.9));
  BOOST_TEST(stops(27.1));
}

BOOST_AUTO_TEST_CASE(a_gate_that_guards_the_end_is_where_the_track_ends) {
  track.gates.push_back(Gate{"buffers", 1900, 0.2, true});
  watch.emplace(track, BrakingLimits{}, ShownSpeeds{});
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  BOOST_TEST(!stops(5));
  BOOST_TEST(stops(5.2));
}

BOOST_AUTO_TEST_CASE(loops_have_no_ends) {
  track.shape = TrackShape::loop;
  watch.emplace(track, BrakingLimits{}, ShownSpeeds{});
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  BOOST_TEST(!stops(1000));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
