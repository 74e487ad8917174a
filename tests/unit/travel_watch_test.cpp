// What a run of passages tells of way and speed, and what a new command leaves of it. Track and times are invented.
#include "drivers/safety/travel_watch.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

struct Travelled {
  static TestTrack straight() {
    TestTrack track;
    track.shape = TrackShape::shuttle;
    track.length_mm = 2400;
    track.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
    return track;
  }
  void command(int step, Direction direction) { watch.commanded(ThrottleCommand{step, direction, StepMode::steps28}); }
  void pass(int gate, double s) {
    const GateEdge edge{gate, true, static_cast<std::uint32_t>(s * 1e6), 1, Instant{} + seconds(s)};
    BOOST_TEST(!watch.passage(GatePassage{gate, edge, false, true}).has_value());
  }
  TravelWatch watch{straight(), 300, 1500};
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(travel_watch, Travelled)

BOOST_AUTO_TEST_CASE(from_gate_to_gate_at_one_step_is_a_speed) {
  BOOST_TEST(watch.way() == 0);
  BOOST_TEST(!watch.speed_mm_s().has_value());
  command(10, Direction::forward);
  pass(0, 1);
  BOOST_TEST(!watch.speed_mm_s().has_value());
  pass(1, 2.5);
  BOOST_TEST(watch.way() == 1);
  BOOST_TEST(watch.speed_mm_s().value() == 100, boost::test_tools::tolerance(1e-6));
}

BOOST_AUTO_TEST_CASE(another_step_on_the_way_leaves_the_way_and_no_speed) {
  command(10, Direction::forward);
  pass(0, 1);
  command(11, Direction::forward);
  pass(1, 2.5);
  BOOST_TEST(watch.way() == 1);
  BOOST_TEST(!watch.speed_mm_s().has_value());
}

BOOST_AUTO_TEST_CASE(another_direction_begins_another_run) {
  command(10, Direction::forward);
  pass(0, 1);
  command(10, Direction::reverse);
  pass(1, 2.5);  // by whatever way it came there
  BOOST_TEST(watch.way() == 0);
  BOOST_TEST(!watch.speed_mm_s().has_value());
}

// 3 m round, and no engine is three times as fast as 1500 mm/s: what comes sooner than after two thirds of a second is
// the gate's own doing.
BOOST_AUTO_TEST_CASE(a_gate_that_sees_too_much_is_no_fast_engine) {
  TestTrack ring;
  ring.length_mm = 3000;
  ring.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
  const auto reason_of_passes_every = [&ring](double apart_s) {
    TravelWatch around(ring, 300, 1500);
    around.commanded(ThrottleCommand{10, Direction::forward, StepMode::steps28});
    for (int pass = 0; pass < 10; ++pass) {
      const double s = 1 + pass * apart_s;
      const GateEdge edge{0, true, static_cast<std::uint32_t>(s * 1e6), 1, Instant{} + seconds(s)};
      if (const auto stop = around.passage(GatePassage{0, edge, false, true})) return std::string(code(stop->reason));
    }
    return std::string("none");
  };
  BOOST_TEST(reason_of_passes_every(0.6) == "gate-order");
  BOOST_TEST(reason_of_passes_every(0.7) == "overspeed");
  BOOST_TEST(reason_of_passes_every(11) == "none");
}

struct Travelled3 : Travelled {
  Travelled3() {
    TestTrack loop = straight();
    loop.shape = TrackShape::loop;
    loop.length_mm = 6000;
    loop.gates = {Gate{"throat", 500, 0.2}, Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
    watch = TravelWatch(loop, 300, 1500);
  }
};

// Gathering speed with momentum, past gates at 1150, 1000 and 500 mm of a loop of 6 m: 20 and then 60 mm/s. Forward,
// the long ways between the same gates would be even, but of 780 and 660 mm/s, and no more than 300 are allowed.
BOOST_FIXTURE_TEST_CASE(a_start_with_momentum_tells_no_facing, Travelled3) {
  command(10, Direction::reverse);
  pass(2, 1);
  pass(1, 1 + 150 / 20.0);
  pass(0, 1 + 150 / 20.0 + 500 / 60.0);
  BOOST_TEST(watch.way() == 0);
  pass(2, 1 + 150 / 20.0 + 500 / 60.0 + 5350 / 80.0);
  pass(1, 1 + 150 / 20.0 + 500 / 60.0 + 5500 / 80.0);
  BOOST_TEST(watch.way() == -1);
}

// 20 and then 200 mm/s are no steady speed, though no faster than allowed; nor are 780 and 2200 the other way round.
BOOST_FIXTURE_TEST_CASE(an_uneven_run_tells_no_facing, Travelled3) {
  command(10, Direction::reverse);
  pass(2, 1);
  pass(1, 1 + 150 / 20.0);
  pass(0, 1 + 150 / 20.0 + 500 / 200.0);
  BOOST_TEST(watch.way() == 0);
}

// A decoder that has lost its settings runs it at 644 mm/s, the wrong way: forward the same times would be 25,000 and
// 17 mm/s, and no better.
BOOST_FIXTURE_TEST_CASE(a_runaway_is_seen_to_run_the_wrong_way, Travelled3) {
  command(10, Direction::reverse);
  pass(2, 1);
  pass(1, 1 + 150 / 100.0);
  pass(0, 1 + 650 / 100.0);
  BOOST_TEST(watch.way() == -1);
  command(10, Direction::forward);
  pass(1, 20);
  pass(0, 20 + 500 / 644.0);
  const double s = 20 + 500 / 644.0 + 5350 / 644.0;
  const GateEdge edge{2, true, static_cast<std::uint32_t>(s * 1e6), 1, Instant{} + seconds(s)};
  const std::optional<Stop> stop = watch.passage(GatePassage{2, edge, false, true});
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "wrong-way");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
