// The rules about staging tracks. Track and speeds are invented; distances are reckoned by hand in the comments.
#include "drivers/safety/staging_watch.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

constexpr auto out_of_it = Direction::forward;
constexpr auto into_it = Direction::reverse;
constexpr int throat = 0, west = 1, east = 2;

/// A loop of 6 m; the turnouts lie between the gates throat and west, and tracks lead out past west. From there it is
/// 1600 mm to the buffers of the first track.
struct Siding {
  Siding() {
    track.length_mm = 6000;
    track.gates = {Gate{"throat", 500, 0.2}, Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
    track.staging = Staging{west, 1, {StagingTrack{1600, out_of_it}, StagingTrack{900, into_it}}};
    watch.emplace(track, BrakingLimits{}, 1500);
  }
  static Instant at(double s) { return Instant{} + seconds(s); }
  void command(double s, Direction direction, int step = 10) {
    watch->commanded(at(s), ThrottleCommand{step, direction, StepMode::steps28});
  }
  std::string passes(double s, int gate, std::uint32_t epoch = 1) {
    const GateEdge edge{gate, true, static_cast<std::uint32_t>(s * 1e6), epoch, at(s)};
    return reason(watch->passage(GatePassage{gate, edge, false, true}));
  }
  std::string looks(double s) { return reason(watch->look(at(s))); }
  static std::string reason(const std::optional<Stop>& stop) { return stop ? std::string(code(stop->reason)) : "none"; }
  /// At 100 mm/s: 60 s for a lap, and then it stands.
  void run_laps_home() {
    command(0, into_it);
    for (const double lap_s : {0.0, 60.0}) {
      BOOST_TEST(passes(lap_s + 10, west) == "none");
      BOOST_TEST(passes(lap_s + 15, throat) == "none");
    }
    watch->stand(at(80));
    watch->route(1);
  }

  TestTrack track;
  std::optional<StagingWatch> watch;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(staging_watch, Siding)

// 1580 mm are left of the way at the gate; at up to 103 mm/s it needs 25.75 + 3.54 mm to stop: 1550.7 mm are used up
// after 15.06 s.
BOOST_AUTO_TEST_CASE(it_stops_before_the_buffers) {
  run_laps_home();
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  BOOST_TEST(looks(107.0) == "none");
  BOOST_TEST(looks(107.1) == "end-of-track");
}

BOOST_AUTO_TEST_CASE(who_stands_in_time_is_left_alone) {
  run_laps_home();
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  watch->stand(at(107));
  BOOST_TEST(looks(200) == "none");
  command(201, into_it);  // what was run is not forgotten
  BOOST_TEST(looks(201.1) == "end-of-track");
}

BOOST_AUTO_TEST_CASE(what_it_runs_back_does_not_count) {
  run_laps_home();
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  command(100, out_of_it);
  BOOST_TEST(looks(300) == "none");
  BOOST_TEST(passes(301, west) == "none");  // it is out again
  BOOST_TEST(looks(400) == "none");
}

// Another step than the one that ran laps: whatever an engine can do, 1500 mm/s.
BOOST_AUTO_TEST_CASE(no_engine_runs_in_whose_speed_is_not_known) {
  run_laps_home();
  command(90, into_it, 11);
  BOOST_TEST(passes(92, west) == "none");  // 375 + 750 mm to stop, of 1580
  BOOST_TEST(looks(92.2) == "none");
  BOOST_TEST(looks(92.4) == "end-of-track");
}

// The gate throat misses it once: by that gate a lap took twice as long, by the other one it did not.
BOOST_AUTO_TEST_CASE(the_fastest_of_all_gates_counts) {
  command(0, into_it);
  for (const double s : {10.0, 70.0, 130.0}) BOOST_TEST(passes(s, west) == "none");
  for (const double s : {15.0, 135.0}) BOOST_TEST(passes(s, throat) == "none");
  watch->stand(at(140));
  watch->route(1);
  command(150, into_it);
  BOOST_TEST(passes(152, west) == "none");
  BOOST_TEST(looks(167.0) == "none");
  BOOST_TEST(looks(167.1) == "end-of-track");
}

// Three seconds for 6 m, and stamps of a board that has booted meanwhile, tell no speed.
BOOST_AUTO_TEST_CASE(what_no_engine_does_is_no_lap) {
  command(0, into_it);
  BOOST_TEST(passes(10, west) == "none");
  BOOST_TEST(passes(13, west) == "none");
  BOOST_TEST(passes(73, west, 2) == "none");
  watch->stand(at(80));
  watch->route(1);
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  BOOST_TEST(looks(92.4) == "end-of-track");
}

BOOST_AUTO_TEST_CASE(a_lap_at_two_steps_is_none) {
  command(0, into_it);
  BOOST_TEST(passes(10, west) == "none");
  command(20, into_it, 11);
  command(30, into_it);
  BOOST_TEST(passes(70, west) == "none");
  watch->stand(at(80));
  watch->route(1);
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  BOOST_TEST(looks(92.4) == "end-of-track");
}

BOOST_AUTO_TEST_CASE(nobody_runs_past_turnouts_that_lead_elsewhere) {
  watch->route(1);
  command(0, out_of_it);
  BOOST_TEST(passes(5, west) == "none");
  BOOST_TEST(passes(7, east) == "none");
  BOOST_TEST(passes(60, throat) == "off-route");
}

BOOST_AUTO_TEST_CASE(turnouts_that_did_not_move) {
  run_laps_home();
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  BOOST_TEST(passes(97, throat) == "off-route");
}

// Who faces the buffers runs out in reverse. Another gate than the clear one begins nothing.
BOOST_AUTO_TEST_CASE(each_track_has_its_own_way_out) {
  watch->route(2);
  command(0, into_it);
  BOOST_TEST(passes(5, west) == "none");
  BOOST_TEST(looks(100) == "none");
  command(101, out_of_it);
  BOOST_TEST(passes(102, east) == "none");
  BOOST_TEST(looks(103) == "none");
  BOOST_TEST(passes(104, west) == "end-of-track");  // 1125 mm to stop, of 880
}

BOOST_AUTO_TEST_CASE(the_closed_loop_has_no_ends) {
  run_laps_home();
  watch->route(0);
  command(90, into_it);
  BOOST_TEST(passes(92, west) == "none");
  BOOST_TEST(passes(97, throat) == "none");
  BOOST_TEST(looks(500) == "none");
}

BOOST_AUTO_TEST_CASE(no_turnout_moves_under_an_engine) {
  BOOST_TEST(!watch->refuses(at(0), 1).has_value());
  BOOST_TEST(watch->refuses(at(0), 3).value() == "there is no staging track 3");
  BOOST_TEST(watch->refuses(at(0), -1).has_value());
  command(0, out_of_it);
  BOOST_TEST(watch->refuses(at(10), 1).value() == "the engine is commanded to run, and may be on the turnouts");
  watch->stand(at(20));
  BOOST_TEST(watch->refuses(at(20.4), 0).value() == "the engine has not come to rest yet");
  watch->stand(at(20.3));  // once more
  BOOST_TEST(!watch->refuses(at(20.6), 0).has_value());
  track.staging.reset();
  watch.emplace(track, BrakingLimits{}, 1500);
  BOOST_TEST(watch->refuses(at(0), 0).value() == "no staging tracks are described");
}

BOOST_AUTO_TEST_CASE(a_passage_at_rest_is_not_its_business) {
  watch->route(1);
  watch->stand(at(0));
  BOOST_TEST(passes(5, throat) == "none");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
