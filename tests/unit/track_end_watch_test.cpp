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
    watch.emplace(track, BrakingLimits{});
  }
  static Instant at(double s) { return Instant{} + seconds(s); }
  void command(double s, int step, Direction direction) {
    watch->commanded(at(s), ThrottleCommand{step, direction, StepMode::steps28});
  }
  [[nodiscard]] bool passes(double s, int gate, int way, std::optional<double> speed_mm_s = std::nullopt,
                            std::optional<double> mean_mm_s = std::nullopt) {
    const GatePassage passage{gate, GateEdge{gate, true, static_cast<std::uint32_t>(s * 1e6), 1, at(s)}, false, true};
    return watch->passage(passage, way, speed_mm_s, mean_mm_s).has_value();
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

BOOST_AUTO_TEST_CASE(what_it_runs_back_is_not_counted) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  command(2, 20, homeward);
  BOOST_TEST(!stops(29));
  command(30, 20, outward);  // for the second time: 165 mm of 1230 are used up
  BOOST_TEST(!stops(30));
  BOOST_TEST(!stops(36));
  BOOST_TEST(stops(37));
}

BOOST_AUTO_TEST_CASE(who_stands_goes_no_further) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  watch->stand(at(5));
  BOOST_TEST(!stops(60));
  command(60, 20, outward);
  BOOST_TEST(!stops(62));
}

// It comes back from 56 mm before the end, at up to 330 mm/s, which needs 119 mm to stop: between the gates that is
// nothing to stop for.
BOOST_AUTO_TEST_CASE(between_the_gates_there_is_room) {
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 300));
  command(2, 20, homeward);
  BOOST_TEST(!passes(3, 1, -1));
  BOOST_TEST(!passes(4, 0, -1, 150));  // 980 mm are left
  command(9.6, 20, outward);           // 165 mm/s for 5.6 s
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

// The gate at 1900 mm counts for the end: at up to 165 mm/s 50.3 mm are needed to stop, and of 730 mm 679.7 are used
// up after 4.12 s.
BOOST_AUTO_TEST_CASE(a_gate_that_guards_the_end_is_where_the_track_ends) {
  track.gates.push_back(Gate{"buffers", 1900, 0.2, true});
  watch.emplace(track, BrakingLimits{});
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  BOOST_TEST(!stops(5.1));
  BOOST_TEST(stops(5.2));
}

BOOST_AUTO_TEST_CASE(loops_have_no_ends) {
  track.shape = TrackShape::loop;
  watch.emplace(track, BrakingLimits{});
  command(0, 20, outward);
  BOOST_TEST(!passes(1, 1, 1, 150));
  BOOST_TEST(!stops(1000));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
