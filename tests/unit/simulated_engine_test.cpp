// The simulated engine's mechanics: stall, top speed, inertia, warming, direction, and that energy never comes from
// nowhere.
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "drivers/simulated/engine.h"

namespace lapwright {
namespace {

using simulated::Engine;
using simulated::EngineDescription;
using simulated::RailwayDescription;
using simulated::Track;

RailwayDescription level_loop() {
  RailwayDescription railway;
  railway.roughness = 0;
  return railway;
}

/// Without luck or unevenness, so that its motion can be reckoned by hand.
EngineDescription plain_engine() {
  EngineDescription engine;
  engine.friction.breakaway = 1;
  engine.friction.wander = engine.friction.jolt = 0;
  engine.ripple.eccentricity = engine.ripple.wheel_friction = engine.ripple.gear_friction = 0;
  return engine;
}

void run(Engine& engine, double drive, double length_s, bool powered = true) {
  const int steps = static_cast<int>(std::lround(length_s / 0.001));
  for (int step = 0; step < steps; ++step) engine.advance(0.001, drive, powered);
}

struct Bed {
  Track track{level_loop(), 1};
  EngineDescription description = plain_engine();
  Engine engine() { return {description, track, description.motor.volts, 1, 2000}; }
};

BOOST_FIXTURE_TEST_SUITE(simulated_engine, Bed)

BOOST_AUTO_TEST_CASE(reaches_its_top_speed_warm) {
  Engine warm = engine();
  warm.make_steady();
  run(warm, 1, 5);
  BOOST_TEST(warm.speed_mm_s() == description.motor.top_speed_mm_s, boost::test_tools::tolerance(1e-3));
  BOOST_TEST(warm.position_mm() - 2000 == warm.distance_mm(), boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(stays_where_friction_holds_it) {
  description.friction.breakaway = 1.5;
  Engine still = engine();
  still.make_steady();
  run(still, 0.99 * 1.5 * description.friction.running, 2);
  BOOST_TEST(still.speed_mm_s() == 0.0);
  BOOST_TEST(still.distance_mm() == 0.0);
  run(still, 1.01 * 1.5 * description.friction.running, 2);
  BOOST_TEST(still.speed_mm_s() > 0.0);
  // Once it moves, less is enough: friction at rest is the larger one.
  run(still, 1.4 * description.friction.running, 3);
  BOOST_TEST(still.speed_mm_s() > 0.0);
  run(still, 0.9 * description.friction.running, 3);
  BOOST_TEST(still.speed_mm_s() == 0.0);
}

BOOST_AUTO_TEST_CASE(gathers_speed_with_its_time_constant) {
  description.friction.viscous = 0;
  Engine warm = engine();
  warm.make_steady();
  // First order: after one time constant (flywheels included) 1 - 1/e of the way. From the motor equation, no source.
  run(warm, 0.6, description.motor.time_constant_s * (1 + description.motor.flywheel));
  const double early_mm_s = warm.speed_mm_s();
  run(warm, 0.6, 5);
  BOOST_TEST(early_mm_s / warm.speed_mm_s() == 1 - std::exp(-1.0), boost::test_tools::tolerance(0.02));
}

BOOST_AUTO_TEST_CASE(steps_of_any_size_agree) {
  Engine fine = engine();
  Engine rough = engine();
  fine.make_steady();
  rough.make_steady();
  for (int step = 0; step < 8000; ++step) fine.advance(0.00025, 0.5, true);
  for (int step = 0; step < 1000; ++step) rough.advance(0.002, 0.5, true);
  BOOST_TEST(fine.speed_mm_s() == rough.speed_mm_s(), boost::test_tools::tolerance(1e-3));
  BOOST_TEST(fine.distance_mm() == rough.distance_mm(), boost::test_tools::tolerance(5e-3));
}

BOOST_AUTO_TEST_CASE(warms_up_and_runs_faster) {
  Engine cold = engine();
  run(cold, 0.3, 3);
  const double cold_mm_s = cold.speed_mm_s();
  run(cold, 0.3, description.thermal.warm_up_s);
  BOOST_TEST(cold.warmth().gears() > 0.55);
  BOOST_TEST(cold.warmth().gears() < 0.8);
  run(cold, 0.3, 6 * description.thermal.warm_up_s);
  BOOST_TEST(cold.warmth().gears() > 0.98);
  const double gain = cold.speed_mm_s() / cold_mm_s - 1;
  BOOST_TEST(gain > 0.02);
  BOOST_TEST(gain < 0.15);
}

BOOST_AUTO_TEST_CASE(cools_more_slowly_than_it_warms) {
  Engine warm = engine();
  run(warm, 0.3, 100);
  const double after_run = warm.warmth().gears();
  run(warm, 0, 100);
  BOOST_TEST(warm.warmth().gears() < after_run);
  BOOST_TEST(warm.warmth().gears() > after_run / 2);
}

BOOST_AUTO_TEST_CASE(reverse_differs_as_described) {
  description.friction.reverse_extra = 0.5;
  Engine ahead = engine();
  Engine back = engine();
  run(ahead, 0.4, 3);
  run(back, -0.4, 3);
  BOOST_TEST(back.speed_mm_s() < 0.0);
  BOOST_TEST(-back.speed_mm_s() < ahead.speed_mm_s());
  BOOST_TEST(back.back_emf_share() < 0.0);
}

BOOST_AUTO_TEST_CASE(gains_energy_from_the_motor_only) {
  Engine coasting = engine();
  run(coasting, 0.5, 3);
  BOOST_TEST(coasting.motor_current_mA() > 0.0);  // it takes power to keep going
  double last_mm_s = coasting.speed_mm_s();
  while (last_mm_s > 0) {
    coasting.advance(0.001, 0.5, false);  // open circuit: what the decoder wants does not matter
    BOOST_REQUIRE(coasting.speed_mm_s() < last_mm_s);
    BOOST_REQUIRE(coasting.motor_current_mA() == 0.0);
    last_mm_s = coasting.speed_mm_s();
  }
  run(coasting, 0.5, 1, false);
  BOOST_TEST(coasting.speed_mm_s() == 0.0);
}

BOOST_AUTO_TEST_CASE(a_shorted_motor_brakes_harder_than_an_open_one) {
  Engine shorted = engine();
  Engine open = engine();
  run(shorted, 0.5, 3);
  run(open, 0.5, 3);
  run(shorted, 0, 0.05);
  run(open, 0, 0.05, false);
  BOOST_TEST(shorted.speed_mm_s() < open.speed_mm_s());
}

BOOST_AUTO_TEST_CASE(binding_spots_slow_it_down) {
  RailwayDescription railway = level_loop();
  railway.bindings = {{2500, 2700, 1.0}};
  const Track stiff(railway, 1);
  BOOST_TEST(stiff.drag(2600) == 2.0, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(stiff.drag(2600 + railway.length_mm) == 2.0, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(stiff.drag(2600 - railway.length_mm) == 2.0, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(stiff.drag(1000) == 1.0, boost::test_tools::tolerance(1e-9));
  Engine running(description, stiff, description.motor.volts, 1, 2300);
  running.make_steady();
  double slowest_mm_s = 1e9;
  run(running, 0.3, 1);
  const double free_mm_s = running.speed_mm_s();
  while (running.position_mm() < 3000) {
    running.advance(0.001, 0.3, true);
    slowest_mm_s = std::min(slowest_mm_s, running.speed_mm_s());
  }
  BOOST_TEST(slowest_mm_s < 0.8 * free_mm_s);
}

BOOST_AUTO_TEST_CASE(buffers_stop_it_and_are_counted_once) {
  RailwayDescription railway = level_loop();
  railway.shape = TrackShape::shuttle;
  railway.length_mm = 1000;
  const Track shuttle(railway, 1);
  Engine running(description, shuttle, description.motor.volts, 1, 500);
  run(running, 0.5, 10);
  BOOST_TEST(running.position_mm() == 1000, boost::test_tools::tolerance(1e-3));
  BOOST_TEST(running.buffer_hits() == 1U);
  run(running, -0.5, 10);
  BOOST_TEST(running.position_mm() == description.length_mm, boost::test_tools::tolerance(1e-3));
  BOOST_TEST(running.buffer_hits() == 2U);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
