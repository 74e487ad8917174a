// The rules about the way: speed, direction, the order of the gates and the ends of a shuttle, on engines that walk
// along a track. Loops, engines and speeds are invented.
#include <boost/test/unit_test.hpp>

#include "drivers/safety/motion_watch.h"
#include "tests/unit/track_walk.h"

using namespace lapwright;

namespace {

TestTrack ring() {
  TestTrack track;
  track.length_mm = 3000;
  track.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
  return track;
}

TestTrack ring_of_three() {
  TestTrack track = ring();
  track.gates.push_back(Gate{"far", 2200, 0.2});
  return track;
}

TestTrack ring_of_one() {
  TestTrack track = ring();
  track.gates.pop_back();
  return track;
}

TestTrack straight() {
  TestTrack track = ring();
  track.shape = TrackShape::shuttle;
  track.length_mm = 2400;
  return track;
}

struct WatchedWalk {
  WatchedWalk() { use(ring()); }
  void use(const TestTrack& track) {
    MotionLimits limits;
    limits.sheet_top_mm_s = 200;
    limits.sheet_slowest_mm_s = 10;
    limits.track = track;
    watch = MotionWatch(limits);
    walk.track = track;
    walk.edge = [this](const GateEdge& edge) { note(watch.edge(edge)); };
    walk.tick = [this](Instant now) { note(watch.look(now)); };
  }
  /// Commands the direction and moves, as an engine that faces along the track does.
  void run(Direction direction, double mm_s, double length_s, int step = 10) {
    watch.drive(walk.now(), ThrottleCommand{step, direction, StepMode::steps28});
    if (ran && *ran != direction) walk.go(0, turn_s);
    ran = direction;
    walk.go(direction == Direction::forward ? mm_s : -mm_s, length_s);
  }
  void note(std::optional<Stop> found) {
    if (found && !stop) stop = std::move(found);
  }
  [[nodiscard]] std::string reason() const { return stop ? std::string(code(stop->reason)) : "none"; }

  static constexpr double turn_s = 0.3;  // until an engine that ran goes the other way
  std::optional<Direction> ran;
  MotionWatch watch{MotionLimits{}};
  TrackWalk walk;
  std::optional<Stop> stop;
};

constexpr auto ahead = Direction::forward;
constexpr auto back = Direction::reverse;

}  // namespace

BOOST_FIXTURE_TEST_SUITE(travel_rules, WatchedWalk)

// The opening between engine and tender passes the first gate just after the engine has reached the second one: that is
// no lap.
BOOST_AUTO_TEST_CASE(an_opening_is_no_second_engine) {
  walk.parts = {{3, 148}, {156, 242}};
  run(ahead, 190, 60);
  run(back, 190, 60);
  run(ahead, 20, 200);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(trucks_at_the_beams_height_are_no_laps) {
  walk.parts = {{0, 50}, {130, 180}};
  run(ahead, 190, 60);
  run(back, 150, 60);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(a_lap_too_fast_is_noticed_at_its_end) {
  run(ahead, 310, 2 * 3000 / 310.0);
  BOOST_TEST(reason() == "overspeed");
  BOOST_TEST(stop->sentence.find("limit is 300 mm/s") != std::string::npos, stop->sentence);
}

BOOST_AUTO_TEST_CASE(a_loop_with_one_gate_needs_three_laps_for_it) {
  use(ring_of_one());
  run(ahead, 310, 3.2 * 3000 / 310.0);
  BOOST_TEST(reason() == "none");
  run(ahead, 310, 3000 / 310.0);
  BOOST_TEST(reason() == "overspeed");
}

BOOST_AUTO_TEST_CASE(changes_of_speed_on_the_way_are_no_offence) {
  for (int lap = 0; lap < 4; ++lap) {
    run(ahead, 190, 8, 28);
    run(ahead, 12, 20, 2);
    run(back, 60, 4, 8);
  }
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(an_engine_that_runs_the_other_way_is_stopped) {
  run(ahead, 100, 70);  // two laps: now it is known which way it faces
  BOOST_TEST(reason() == "none");
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  run(back, 100, 70);
  BOOST_TEST(reason() == "none");
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  walk.go(-100, 70);
  BOOST_TEST(reason() == "wrong-way");
  BOOST_TEST(stop->sentence.find("CV29 bit 0") != std::string::npos, stop->sentence);
}

BOOST_AUTO_TEST_CASE(either_facing_is_right_if_it_stays) {
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  walk.go(-100, 100);
  watch.drive(walk.now(), ThrottleCommand{10, back, StepMode::steps28});
  walk.go(100, 100);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(three_gates_tell_the_way_as_well) {
  use(ring_of_three());
  run(ahead, 100, 70);
  BOOST_TEST(reason() == "none");
  BOOST_TEST(watch.place().find("between gate") == 0, watch.place());
  watch.stand(walk.now());
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  walk.go(-100, 70);
  BOOST_TEST(reason() == "wrong-way");
}

BOOST_AUTO_TEST_CASE(a_missed_edge_now_and_then_is_no_other_way) {
  int told = 0;
  walk.edge = [&](const GateEdge& edge) {
    if (++told % 5 != 0) note(watch.edge(edge));
  };
  run(ahead, 150, 300);
  run(back, 150, 300);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(one_engine_can_not_be_at_both_gates) {
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  const auto hear = [&](int gate, bool blocked, double s) {
    const auto counter_us = static_cast<std::uint32_t>(s * 1e6);
    note(watch.edge(GateEdge{gate, blocked, counter_us, 1, Instant{} + seconds(s)}));
    note(watch.look(Instant{} + seconds(s + 0.05)));
  };
  for (int times = 0; times < 3; ++times) {
    BOOST_TEST(reason() == "none");
    for (const int gate : {0, 1}) hear(gate, true, 10 + 15 * times + 0.002 * gate);
    for (const int gate : {0, 1}) hear(gate, false, 10.1 + 15 * times + 0.002 * gate);
  }
  BOOST_TEST(reason() == "gate-order");
  BOOST_TEST(stop->sentence.find("wiring") != std::string::npos, stop->sentence);
}

BOOST_AUTO_TEST_CASE(two_strange_moments_far_apart_are_no_habit) {
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  const auto hear = [&](int gate, bool blocked, double s, std::uint32_t epoch) {
    const auto counter_us = static_cast<std::uint32_t>(s * 1e6);
    note(watch.edge(GateEdge{gate, blocked, counter_us, epoch, Instant{} + seconds(s)}));
    note(watch.look(Instant{} + seconds(s + 0.05)));
  };
  for (int times = 0; times < 5; ++times) {
    for (const int gate : {0, 1}) hear(gate, true, 10 + 40 * times + 0.002 * gate, 1);
    for (const int gate : {0, 1}) hear(gate, false, 10.1 + 40 * times + 0.002 * gate, 1);
  }
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  // Stamps of two boots of the board can't be told apart in time: nothing follows from them.
  hear(0, true, 300, 1);
  hear(0, false, 300.1, 1);
  hear(1, true, 300.102, 2);
  hear(1, false, 300.2, 2);
  hear(7, true, 301, 2);  // a gate that this track has not got
  hear(-1, true, 301, 2);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

// Turned round while it coasts, it sees one gate, the other one, and the first again: no way fits, and none is told.
BOOST_AUTO_TEST_CASE(a_shuttle_seen_to_and_fro_under_one_command) {
  use(straight());
  walk.front_mm = 900;
  watch.drive(walk.now(), ThrottleCommand{10, ahead, StepMode::steps28});
  walk.go(100, 4);
  walk.go(-100, 4);
  walk.go(100, 4);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(while_no_step_has_a_measured_speed_it_may_be_twice_as_fast_as_it_was_between_the_gates) {
  use(straight());
  walk.front_mm = 900;
  run(ahead, 100, 1.5, 10);
  run(ahead, 100, 3, 11);  // another step between the gates
  run(ahead, 100, 3, 12);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  run(ahead, 100, 4, 12);
  BOOST_TEST(reason() == "end-of-track");
}

BOOST_AUTO_TEST_CASE(a_missed_edge_makes_no_shuttle_faster) {
  use(straight());
  walk.front_mm = 900;
  walk.parts = {{0, 60}, {100, 160}};
  bool lose = false;
  walk.edge = [&](const GateEdge& edge) {
    if (!(lose && edge.gate == 0 && edge.blocked)) note(watch.edge(edge));
    if (edge.gate == 0 && !edge.blocked) lose = false;  // the engine's first part went by unseen
  };
  for (int turn = 0; turn < 4; ++turn) {
    lose = turn == 2;
    run(ahead, 60, 14);  // 590 mm beyond the gate
    run(back, 60, 14);
  }
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(a_shuttle_turns_round_in_time) {
  use(straight());
  walk.front_mm = 600;
  for (int turn = 0; turn < 5; ++turn) {
    run(ahead, 150, 6.0);  // 350 mm beyond the gate, 900 mm from the buffers
    run(back, 150, 6.0);
  }
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
}

BOOST_AUTO_TEST_CASE(a_shuttle_that_does_not_turn_round_is_stopped_before_the_end) {
  use(straight());
  walk.front_mm = 600;
  run(ahead, 150, 4);
  BOOST_TEST(reason() == "none");
  walk.tick = [this](Instant now) {
    const bool before = stop.has_value();
    note(watch.look(now));
    if (!before && stop) BOOST_TEST_MESSAGE("stopped at " << walk.front_mm);
    if (!before && stop) BOOST_TEST(walk.front_mm < 2400 - 20 - 150 * 0.25);
    if (!before && stop) BOOST_TEST(walk.front_mm > 2200);
  };
  run(ahead, 150, 9);
  BOOST_TEST(reason() == "end-of-track");
}

BOOST_AUTO_TEST_CASE(a_shuttle_is_not_told_to_go_faster_than_it_can_stop) {
  use(straight());
  walk.front_mm = 600;
  run(ahead, 190, 5, 28);
  run(back, 190, 5, 28);
  run(ahead, 20, 60, 3);  // creeps out to 1800 mm
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  walk.go(20, 18);  // 2160 mm
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  watch.drive(walk.now(), ThrottleCommand{28, ahead, StepMode::steps28});
  note(watch.look(walk.now()));
  BOOST_TEST(reason() == "end-of-track");
}

// It turns round as soon as it has left the gate: that it comes back into the beam at once is no opening in it, and its
// speed between the gates counts. 308 mm/s (a tenth to spare) need 109 mm to stop; by the speed ahead it would be 26.
BOOST_AUTO_TEST_CASE(a_shuttle_that_turns_at_the_gate_is_timed_on_its_way_back) {
  use(straight());
  walk.front_mm = 900;
  run(ahead, 50, 7.44);  // 2 mm beyond the gate
  run(back, 280, 3.3);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  run(back, 280, 0.3);
  BOOST_TEST(reason() == "end-of-track");
}

BOOST_AUTO_TEST_CASE(a_shuttle_too_fast_three_times_running) {
  use(straight());
  walk.front_mm = 700;
  run(ahead, 320, 2);
  run(back, 320, 2);
  BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
  run(ahead, 320, 2);
  BOOST_TEST(reason() == "overspeed");
}

BOOST_AUTO_TEST_CASE(a_shuttle_that_goes_the_wrong_way_is_known_by_the_third_time) {
  use(straight());
  walk.front_mm = 900;
  run(ahead, 100, 4);
  run(back, 100, 4);
  for (int times = 0; times < 3; ++times) {
    BOOST_TEST(reason() == "none", (stop ? stop->sentence : ""));
    watch.drive(walk.now(), ThrottleCommand{10, back, StepMode::steps28});
    walk.go(100, 4);
    watch.stand(walk.now());
    walk.go(-100, 4);
  }
  BOOST_TEST(reason() == "wrong-way");
}

BOOST_AUTO_TEST_CASE(the_place_is_told_by_the_gates) {
  BOOST_TEST(watch.place() == "before any gate saw it");
  run(ahead, 100, 12);
  BOOST_TEST(watch.place() == "between gate east and gate west");
  use(ring_of_three());
  run(ahead, 100, 40);
  BOOST_TEST(watch.place() == "between gate east and gate far");
  run(ahead, 100, 11);
  BOOST_TEST(watch.place() == "between gate far and gate west");
  use(ring_of_one());
  run(ahead, 100, 40);
  BOOST_TEST(watch.place() == "after gate west");
  use(straight());
  walk.front_mm = 900;
  run(ahead, 100, 1.5);
  BOOST_TEST(watch.place() == "after gate west");  // and it is not known which way it faces
  run(ahead, 100, 3.5);
  BOOST_TEST(watch.place() == "after gate east");
  run(back, 100, 1.6);
  BOOST_TEST(watch.place() == "between gate east and gate west");
  watch.stand(walk.now());
  BOOST_TEST(watch.place() == "after gate east");
}

BOOST_AUTO_TEST_SUITE_END()
