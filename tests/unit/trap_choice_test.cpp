#include "tuning/trap_choice.h"

#include <boost/test/unit_test.hpp>
#include <stdexcept>

using namespace lapwright;

namespace {

TestTrack loop(std::initializer_list<Gate> gates) {
  TestTrack track;
  track.length_mm = 6000;
  track.gates = gates;
  return track;
}

std::string refusal(const TestTrack& track, SpeedOver over, const TrapWish& wish) {
  try {
    (void)choose_trap(track, over, wish);
  } catch (const std::invalid_argument& refused) {
    return refused.what();
  }
  return "";
}

}  // namespace

BOOST_AUTO_TEST_SUITE(trap_choice)

BOOST_AUTO_TEST_CASE(longest_base_within_the_share) {
  const TestTrack track = loop({{"a", 0, 0.3}, {"b", 150, 0.4}, {"c", 2300, 0.3}, {"d", 2900, 0.3}});
  const Trap trap = choose_trap(track, SpeedOver::trap, {});
  BOOST_TEST(trap.low_gate == 0);
  BOOST_TEST(trap.high_gate == 2);  // a-c: 2300 of 6000; a-d and b-d are longer than 40 %
  BOOST_TEST(trap.base_mm == 2300);
  TrapWish narrow;
  narrow.longest_share = 0.05;
  const Trap small = choose_trap(track, SpeedOver::trap, narrow);
  BOOST_TEST(small.base_mm == 150);
  BOOST_TEST(small.base_error_mm == 0.5, boost::test_tools::tolerance(1e-12));  // root of 0.3² + 0.4²
}

BOOST_AUTO_TEST_CASE(gates_that_guard_an_end_time_nothing) {
  TestTrack track = loop({{"buffer", 50, 0.2, true}, {"a", 900, 0.2}, {"b", 1050, 0.2}, {"stop", 1900, 0.2, true}});
  track.shape = TrackShape::shuttle;
  const Trap trap = choose_trap(track, SpeedOver::trap, {});
  BOOST_TEST(trap.low_gate == 1);
  BOOST_TEST(trap.high_gate == 2);
  TrapWish wish;
  wish.low_gate = "a";
  wish.high_gate = "stop";
  BOOST_TEST(refusal(track, SpeedOver::trap, wish).find("gate \"stop\" guards an end of the track") == 0u);
}

BOOST_AUTO_TEST_CASE(an_end_is_where_its_guard_stands_in_whatever_order_they_are_told) {
  TestTrack track = loop({{"a", 900, 0.2}, {"stop", 1900, 0.2, true}, {"buffer", 50, 0.2, true}, {"b", 1050, 0.2}});
  track.shape = TrackShape::shuttle;
  track.length_mm = 2400;
  BOOST_TEST(clear_from_mm(track) == 50);
  BOOST_TEST(clear_to_mm(track) == 1900);
  BOOST_TEST(!misplaced_guard(track));
  track.gates[1].position_mm = 1000;
  BOOST_REQUIRE(misplaced_guard(track));
  BOOST_TEST(misplaced_guard(track)->name == "stop");
  BOOST_TEST(clear_to_mm(track) == 2400);
  BOOST_TEST(clear_from_mm(TestTrack{}) == 0);
}

BOOST_AUTO_TEST_CASE(around_the_joint_of_the_loop) {
  const Trap trap = choose_trap(loop({{"a", 100, 0.2}, {"b", 5900, 0.2}}), SpeedOver::trap, {});
  BOOST_TEST(trap.low_gate == 1);
  BOOST_TEST(trap.high_gate == 0);
  BOOST_TEST(trap.base_mm == 200);
}

BOOST_AUTO_TEST_CASE(wished_gates_and_laps) {
  const TestTrack track = loop({{"a", 0, 0.2}, {"b", 150, 0.2}});
  TrapWish wish;
  wish.low_gate = "b";
  wish.high_gate = "a";
  BOOST_TEST(choose_trap(track, SpeedOver::trap, wish).base_mm == 5850);
  const Trap lap = choose_trap(track, SpeedOver::lap, wish);
  BOOST_TEST(lap.times_laps());
  BOOST_TEST(lap.low_gate == 1);
  BOOST_TEST(lap.base_mm == 6000);
  BOOST_TEST(lap.base_error_mm == wish.length_error_mm);
  BOOST_TEST(describe(track, lap) == "over the whole lap from gate b, 6000.0 mm ±5.0 mm");
}

BOOST_AUTO_TEST_CASE(refusals_say_what_to_do) {
  TestTrack shuttle = loop({{"a", 100, 0.2}});
  BOOST_TEST(refusal(shuttle, SpeedOver::trap, {}).find("let the sheet say") != std::string::npos);
  shuttle.shape = TrackShape::shuttle;
  BOOST_TEST(refusal(shuttle, SpeedOver::lap, {}).find("a shuttle has no laps") != std::string::npos);
  TrapWish wish;
  wish.low_gate = "x";
  BOOST_TEST(refusal(shuttle, SpeedOver::trap, wish).find("\"x\"; its gates are \"a\"") != std::string::npos);
  const TestTrack opposite = loop({{"a", 0, 0.2}, {"b", 3000, 0.2}});
  BOOST_TEST(refusal(opposite, SpeedOver::trap, {}).find("40 % of the track") != std::string::npos);
}

BOOST_AUTO_TEST_SUITE_END()
