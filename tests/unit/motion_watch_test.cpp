// The rules about motion, second by second: what stops an engine, and what noise at the gates must not stop.
#include "drivers/safety/motion_watch.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

/// A loop of one metre, gates 150 mm apart, a sheet from 5 to 100 mm/s.
struct WatchedLoop {
  static MotionLimits limits() {
    MotionLimits limits;
    limits.sheet_top_mm_s = 100;
    limits.sheet_slowest_mm_s = 5;
    limits.track.length_mm = 1000;
    limits.track.gates = {Gate{"west", 400, 0.2}, Gate{"east", 550, 0.2}};
    return limits;
  }
  static Instant at(double s) { return Instant{} + seconds(s); }
  static GateEdge made(int gate, bool blocked, double s) {
    return GateEdge{gate, blocked, static_cast<std::uint32_t>(static_cast<std::uint64_t>(4294.0e6 + s * 1e6)), 1,
                    at(s)};
  }
  void drive(double s, int step, Direction direction = Direction::forward) {
    watch.drive(at(s), ThrottleCommand{step, direction, StepMode::steps28});
  }
  void hear(int gate, bool blocked, double s) {
    note(watch.edge(made(gate, blocked, s)));
    note(watch.look(at(s)));
  }
  /// The whole engine, 120 mm of it, through one gate.
  void pass(int gate, double s, double mm_s) {
    hear(gate, true, s);
    note(watch.look(at(s + 0.05)));
    hear(gate, false, s + 120 / mm_s);
  }
  void look(double s) { note(watch.look(at(s))); }
  void laps(double from_s, double mm_s, int count) {
    for (int lap = 0; lap < count; ++lap) {
      pass(0, from_s + 1000 / mm_s * lap, mm_s);
      pass(1, from_s + 1000 / mm_s * lap + 150 / mm_s, mm_s);
    }
  }
  void note(std::optional<Stop> found) {
    if (found && !stop) stop = std::move(found);
  }
  [[nodiscard]] std::string reason() const { return stop ? std::string(code(stop->reason)) : "none"; }

  MotionWatch watch{limits()};
  std::optional<Stop> stop;
};

BOOST_FIXTURE_TEST_SUITE(motion_watch, WatchedLoop)

BOOST_AUTO_TEST_CASE(what_is_commanded_is_told) {
  BOOST_TEST(watch.commanded() == "nothing yet");
  drive(1, 20);
  BOOST_TEST(watch.commanded() == "step 20 forward");
  drive(2, 3, Direction::reverse);
  BOOST_TEST(watch.commanded() == "step 3 in reverse");
  watch.stand(at(3));
  BOOST_TEST(watch.commanded() == "to stand");
}

BOOST_AUTO_TEST_CASE(laps_within_the_limit_stop_nothing) {
  drive(0, 20);
  laps(1, 148, 4);  // across the counter's wrap, too
  BOOST_TEST(reason() == "none");
}

BOOST_AUTO_TEST_CASE(a_lap_beyond_one_and_a_half_times_the_sheet_is_too_fast) {
  drive(0, 20);
  laps(1, 153, 1);
  BOOST_TEST(reason() == "none");
  pass(0, 1 + 1000 / 153.0, 153);
  BOOST_TEST(reason() == "overspeed");
  BOOST_TEST(stop->sentence.find("153 mm/s, the limit is 150 mm/s") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(the_absolute_limit_counts_too) {
  MotionLimits slow = limits();
  slow.fastest_mm_s = 120;
  watch = MotionWatch(slow);
  drive(0, 20);
  laps(1, 125, 2);
  BOOST_TEST(reason() == "overspeed");
}

BOOST_AUTO_TEST_CASE(rocking_in_the_trap_is_no_lap) {
  for (int turn = 0; turn < 6; ++turn) {
    const double s = 2.0 * turn;
    const bool forward = turn % 2 == 0;
    drive(s, 20, forward ? Direction::forward : Direction::reverse);
    pass(forward ? 0 : 1, s + 0.2, 140);
    pass(forward ? 1 : 0, s + 0.2 + 150 / 140.0, 140);
  }
  BOOST_TEST(reason() == "none");
}

BOOST_AUTO_TEST_CASE(openings_missed_and_doubled_edges_are_no_speed) {
  drive(0, 20);
  for (int lap = 0; lap < 4; ++lap) {
    const double s = 1 + 10.0 * lap;  // 100 mm/s
    hear(0, true, s);
    hear(0, true, s + 0.001);  // doubled
    hear(0, false, s + 0.1);   // an opening behind the coupler
    hear(0, true, s + 0.15);
    hear(0, false, s + 1.2);
    if (lap % 2 == 0) pass(1, s + 1.5, 100);  // missed every other lap
  }
  BOOST_TEST(reason() == "none");
}

BOOST_AUTO_TEST_CASE(a_flash_of_light_is_no_passage) {
  drive(0, 5);
  watch.stand(at(10));
  hear(0, true, 60);
  hear(0, false, 60.01);  // shorter than beams bounce: 20 ms
  look(61);
  BOOST_TEST(reason() == "none");
}

BOOST_AUTO_TEST_CASE(motion_at_rest) {
  drive(0, 5);
  watch.stand(at(10));
  pass(0, 14.9, 50);  // it coasts
  BOOST_TEST(reason() == "none");
  hear(1, true, 15.1);
  look(15.11);
  BOOST_TEST(reason() == "none");  // not yet for as long as beams bounce
  look(15.13);
  BOOST_TEST(reason() == "moved-at-rest");
  BOOST_TEST(stop->sentence.find("gate east saw the engine 5 s after") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(step_0_is_a_command_to_stand_and_repeated_ones_put_nothing_off) {
  drive(0, 5);
  for (int s = 1; s < 20; ++s) drive(s, 0);
  pass(0, 19.5, 50);
  BOOST_TEST(reason() == "moved-at-rest");
}

BOOST_AUTO_TEST_CASE(an_engine_that_stands_in_a_beam_makes_it_flicker) {
  drive(0, 5);
  hear(0, true, 9.5);
  watch.stand(at(10));
  for (int flicker = 0; flicker < 20; ++flicker) {
    hear(0, false, 20 + 0.2 * flicker);
    hear(0, true, 20.1 + 0.2 * flicker);
    look(20.15 + 0.2 * flicker);
  }
  BOOST_TEST(reason() == "none");
}

BOOST_AUTO_TEST_CASE(before_the_first_command_hands_may_pass) {
  pass(0, 100, 50);
  BOOST_TEST(reason() == "none");
}

// 60 s, and 2.2 times what 5 mm/s take for the whole loop: 440 s.
BOOST_AUTO_TEST_CASE(no_passage_for_too_long) {
  drive(0, 5);
  look(499);
  BOOST_TEST(reason() == "none");
  pass(0, 499, 50);
  look(998);
  BOOST_TEST(reason() == "none");
  look(1000);
  BOOST_TEST(reason() == "no-passage");
}

// Nudge after nudge, each too short for the rule: what counts is how long it was commanded to run in all.
BOOST_AUTO_TEST_CASE(stopping_and_starting_over_and_over_does_not_hide_a_lost_engine) {
  double s = 0;
  for (int nudge = 0; nudge < 49; ++nudge, s += 60) {
    drive(s, 10, nudge % 2 == 0 ? Direction::forward : Direction::reverse);
    look(s + 10);
    watch.stand(at(s + 10.1));
    watch.stand(at(s + 11));
    look(s + 59);
  }
  BOOST_TEST(reason() == "none");  // 49 times 10.1 s
  drive(s, 10);
  look(s + 5);
  BOOST_TEST(reason() == "none");
  look(s + 6);
  BOOST_TEST(reason() == "no-passage");
}

BOOST_AUTO_TEST_CASE(a_passage_begins_the_wait_anew_also_while_it_coasts) {
  drive(0, 10);
  look(400);
  watch.stand(at(400));
  pass(0, 400.5, 50);
  drive(500, 10);
  look(500 + 499);
  BOOST_TEST(reason() == "none");
  look(500 + 501);
  BOOST_TEST(reason() == "no-passage");
}

BOOST_AUTO_TEST_CASE(while_it_stands_no_passage_is_due) {
  drive(0, 5);
  watch.stand(at(10));
  look(5000);
  BOOST_TEST(reason() == "none");
  drive(5000, 5);
  look(5489);
  BOOST_TEST(reason() == "none");
  look(5490.1);
  BOOST_TEST(reason() == "no-passage");
}

BOOST_AUTO_TEST_CASE(without_a_sheet_or_gates_nothing_is_guessed) {
  watch = MotionWatch(MotionLimits{});
  drive(0, 5);
  hear(0, true, 1);
  look(1e5);
  BOOST_TEST(reason() == "none");
  BOOST_TEST(!watch.longest_wait_s().has_value());
  BOOST_TEST(watch.top_mm_s() == 1500);
}

// It is turned round, and 20 ms later, still on its old way, its head comes to a gate; soon the tail is back in the
// beam of the other one. From gate to gate in 280 ms would be 536 mm/s, and the end of the track near.
BOOST_AUTO_TEST_CASE(what_a_gate_sees_as_it_turns_belongs_to_the_way_before) {
  MotionLimits shuttle = limits();
  shuttle.track.shape = TrackShape::shuttle;
  watch = MotionWatch(shuttle);
  drive(1, 10);
  pass(0, 5, 50);  // 120 mm of it, clear of the gate after 2.4 s
  drive(8, 10, Direction::reverse);
  hear(1, true, 8.02);
  hear(1, false, 8.2);
  hear(0, true, 8.3);
  for (int tenth = 84; tenth < 120; ++tenth) look(0.1 * tenth);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(without_gates_no_passage_is_missed) {
  MotionLimits blind = limits();
  blind.track.gates.clear();
  watch = MotionWatch(blind);
  drive(0, 10);
  look(5000);
  BOOST_TEST(reason() == "none");
  BOOST_TEST(!watch.longest_wait_s().has_value());
}

BOOST_AUTO_TEST_CASE(a_gate_that_guards_the_end_stops_whatever_comes) {
  MotionLimits shuttle = limits();
  shuttle.track.shape = TrackShape::shuttle;
  shuttle.track.gates.push_back(Gate{"buffers", 900, 0.2, true});
  watch = MotionWatch(shuttle);
  pass(2, 0, 50);
  BOOST_TEST(reason() == "none");  // a hand: nothing was commanded yet
  drive(5, 3);
  pass(0, 10, 50);
  pass(1, 13, 50);
  BOOST_TEST(reason() == "none");
  pass(2, 17, 50);
  BOOST_REQUIRE(reason() == "end-of-track");
  BOOST_TEST(stop->sentence.find("gate buffers, which guards an end of the track, saw the engine while it was "
                                 "commanded step 3 forward") == 0u);
  stop.reset();
  watch.stand(at(25));
  pass(2, 26, 50);
  BOOST_TEST(reason() == "end-of-track");  // also while it coasts
}

BOOST_AUTO_TEST_CASE(every_reason_has_a_code_and_an_action) {
  for (int value = 0; value <= static_cast<int>(StopReason::storage_lost); ++value) {
    const auto reason = static_cast<StopReason>(value);
    BOOST_TEST(code(reason) != "unknown");
    BOOST_TEST((action(reason) != StopAction::none));
  }
  BOOST_TEST(code(static_cast<StopReason>(200)) == "unknown");
  BOOST_TEST((action(StopReason::storage_lost) == StopAction::park));
  BOOST_TEST((action(StopReason::over_current) == StopAction::dead));
  BOOST_TEST(latches(StopReason::storage_lost));
  BOOST_TEST(!latches(StopReason::hours_over));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
