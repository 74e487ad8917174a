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

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
