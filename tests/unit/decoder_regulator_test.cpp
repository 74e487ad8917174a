// Back-EMF regulation of the simulated decoder: it settles, and it droops as much as its description says.
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "drivers/simulated/motor_regulator.h"

namespace lapwright {
namespace {

using simulated::MotorRegulator;

/// A motor without friction: back-EMF follows the voltage less the load with one time constant.
struct Motor {
  double time_constant_s;
  double load = 0;  // share of the supply
  double emf = 0;

  double run(MotorRegulator& regulator, double drive, double seconds) {
    constexpr double dt_s = 0.001;
    double mean = 0;
    const int steps = static_cast<int>(seconds / dt_s);
    for (int step = 0; step < steps; ++step) {
      const double duty = regulator.advance(dt_s, drive, emf);
      emf = std::max(0.0, emf + (duty - load - emf) * dt_s / time_constant_s);
      mean += emf / steps;
    }
    return mean;
  }
};

BOOST_AUTO_TEST_SUITE(decoder_regulator)

BOOST_AUTO_TEST_CASE(settles_near_the_target) {
  for (const double time_constant_s : {0.02, 0.05, 0.12}) {
    for (const double drive : {0.1, 0.5, 0.9}) {
      BOOST_TEST_CONTEXT("time constant " << time_constant_s << " s, drive " << drive) {
        MotorRegulator regulator(0.97);
        Motor motor{time_constant_s, 0.08};
        motor.run(regulator, drive, 0.8);
        const double early = motor.emf;
        motor.run(regulator, drive, 5.0);
        const double mean = motor.run(regulator, drive, 1.0);
        BOOST_TEST(std::abs(early - mean) < 0.03 * mean + 0.0015);
        BOOST_TEST(std::abs(mean - drive * 0.85) < 0.03 * 0.08 + 0.001);
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(droops_as_described) {
  for (const double regulation : {0.5, 0.8, 0.9, 0.97}) {
    MotorRegulator regulator(regulation);
    Motor motor{0.05};
    motor.run(regulator, 0.5, 8.0);
    const double free = motor.run(regulator, 0.5, 2.0);
    motor.load = 0.2;
    motor.run(regulator, 0.5, 8.0);
    const double loaded = motor.run(regulator, 0.5, 2.0);
    BOOST_TEST_CONTEXT("regulation " << regulation << ": open loop would lose 0.2, lost " << free - loaded) {
      BOOST_TEST(std::abs(free - loaded - (1 - regulation) * 0.2) < 0.001);
    }
  }
}

BOOST_AUTO_TEST_CASE(comes_back_from_saturation_without_a_leap) {
  MotorRegulator regulator(0.97);
  Motor motor{0.05, 0.6};
  BOOST_TEST(motor.run(regulator, 0.9, 10.0) < 0.41);  // more load than the supply can carry
  motor.load = 0.05;
  double top = 0;
  for (int tenth = 0; tenth < 20; ++tenth) {
    motor.run(regulator, 0.5, 0.1);
    if (tenth >= 5) top = std::max(top, motor.emf);
  }
  BOOST_TEST(top < 0.5 * 0.85 * 1.05);
}

BOOST_AUTO_TEST_CASE(long_steps_are_divided) {
  MotorRegulator fine(0.97);
  MotorRegulator coarse(0.97);
  double last = 0;
  for (int step = 0; step < 500; ++step) last = fine.advance(0.001, 0.4, 0.3);
  BOOST_TEST(std::abs(coarse.advance(0.5, 0.4, 0.3) - last) < 0.01);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
