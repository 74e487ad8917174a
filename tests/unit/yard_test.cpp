// The simulated turnouts and dead ends. Numbers are invented; the engine is 200 mm long.
#include "drivers/simulated/yard.h"

#include <boost/test/unit_test.hpp>

namespace lapwright::simulated {
namespace {

constexpr double loop_mm = 6000, engine_mm = 200;

YardDescription described(Direction out) { return {750, out, {YardTrack{1000, "first"}, YardTrack{1200, "second"}}}; }

/// In steps of a millimetre.
void run(Yard& yard, double from_mm, double to_mm) {
  const double step_mm = to_mm > from_mm ? 1 : -1;
  for (double at_mm = from_mm; at_mm != to_mm; at_mm += step_mm) yard.moved(at_mm, at_mm + step_mm);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(yard)

BOOST_AUTO_TEST_CASE(out_and_in_again) {
  Yard yard(described(Direction::forward), loop_mm, engine_mm);
  yard.set_down(1);
  BOOST_TEST(yard.home_mm(1) == 750 - 1000 + 60 + 200);
  BOOST_TEST(yard.is_home(10));
  BOOST_TEST(yard.lowest_mm() == -50);
  BOOST_TEST(yard.in_track(0));  // a gate at the loop's zero lies beside it
  BOOST_TEST(!yard.in_track(800));
  yard.set_route(1);
  run(yard, 10, 1000);
  BOOST_TEST(yard.track() == 0);
  BOOST_TEST(!yard.is_home(1000));
  BOOST_TEST(!yard.in_track(0));
  yard.set_route(0);
  run(yard, 1000, 2 * loop_mm + 1000);  // two laps
  BOOST_TEST(!yard.derailed());
  yard.set_route(2);
  run(yard, 2 * loop_mm + 1000, 2 * loop_mm + 400);
  BOOST_TEST(yard.track() == 2);
  BOOST_TEST(yard.is_home(2 * loop_mm + 400));
  BOOST_TEST(yard.lowest_mm() == 2 * loop_mm + 750 - 1200 + 200);
  BOOST_TEST(!yard.derailed());
}

BOOST_AUTO_TEST_CASE(tracks_that_lead_out_the_other_way) {
  Yard yard(described(Direction::reverse), loop_mm, engine_mm);
  yard.set_down(1);
  BOOST_TEST(yard.home_mm(1) == 750 + 1000 - 60);
  BOOST_TEST(yard.highest_mm() == 1750);
  yard.set_route(1);
  run(yard, 1690, 700);
  BOOST_TEST(yard.track() == 0);
  yard.set_route(0);
  run(yard, 700, 700 - loop_mm);
  yard.set_route(1);
  run(yard, 700 - loop_mm, 1500 - loop_mm);
  BOOST_TEST(yard.is_home(1500 - loop_mm));
  BOOST_TEST(yard.highest_mm() == 1750 - loop_mm);
  BOOST_TEST(!yard.derailed());
}

BOOST_AUTO_TEST_CASE(out_against_the_blades) {
  Yard yard(described(Direction::forward), loop_mm, engine_mm);
  yard.set_down(1);
  yard.set_route(2);
  run(yard, 10, 749);
  BOOST_TEST(!yard.derailed());
  run(yard, 749, 751);
  BOOST_TEST(yard.derailed());
}

BOOST_AUTO_TEST_CASE(round_the_loop_onto_them_from_behind) {
  Yard yard(described(Direction::forward), loop_mm, engine_mm);
  yard.set_route(1);
  run(yard, 1000, loop_mm + 700);
  BOOST_TEST(!yard.derailed());
  run(yard, loop_mm + 700, loop_mm + 751);
  BOOST_TEST(yard.derailed());
}

BOOST_AUTO_TEST_CASE(past_a_closed_track) {
  Yard yard(described(Direction::forward), loop_mm, engine_mm);
  run(yard, 1000, 400);
  BOOST_TEST(yard.track() == 0);
  BOOST_TEST(!yard.derailed());
}

BOOST_AUTO_TEST_CASE(thrown_under_the_engine) {
  for (const bool on_the_loop : {true, false}) {
    Yard yard(described(Direction::forward), loop_mm, engine_mm);
    if (!on_the_loop) yard.set_down(1);
    if (!on_the_loop) yard.set_route(1);
    run(yard, on_the_loop ? 1000 : 10, 850);
    yard.set_route(on_the_loop ? 1 : 0);
    BOOST_TEST(yard.derailed());
  }
}

BOOST_AUTO_TEST_CASE(a_turnout_that_is_jammed_stays) {
  Yard yard(described(Direction::forward), loop_mm, engine_mm);
  yard.jam(true);
  yard.set_route(1);
  BOOST_TEST(yard.route() == 0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::simulated
