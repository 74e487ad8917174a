// The meaning of CV values against the standard's formulas: check values 63-74 (NMRA S-9.2.2, S-9.2.4, RCN-225).
#include <boost/test/unit_test.hpp>

#include "drivers/dcc/cv_meaning.h"
#include "drivers/simulated/decoder.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

BOOST_AUTO_TEST_SUITE(dcc_cv_meaning)

BOOST_AUTO_TEST_CASE(momentum, *boost::unit_test::tolerance(1e-12)) {
  // Check value 63, printed in S-9.2.2 l. 59-60.
  BOOST_TEST(dcc::momentum_s_per_step(2, 0, 28) == 0.064);
  // Check value 64, its formula.
  BOOST_TEST(dcc::momentum_s_per_step(10, 0, 28) == 0.32);
  BOOST_TEST(28 * dcc::momentum_s_per_step(10, 0, 28) == 8.96);
  BOOST_TEST(126 * dcc::momentum_s_per_step(10, 0, 126) == 8.96);
  // Check values 65 and 66, S-9.2.2 l. 155-161.
  BOOST_TEST(dcc::momentum_s_per_step(10, 133, 28) == 0.16);
  BOOST_TEST(dcc::momentum_s_per_step(3, 138, 28) == 0.0);
  BOOST_TEST(dcc::momentum_s_per_step(10, 5, 28) == 0.48);
  // Limited to the maximum rate, S-9.2.2 l. 155-161; that this is 255 is our reading.
  BOOST_TEST(dcc::momentum_s_per_step(200, 100, 28) == 8.16);
  // Common practice, no source: CV3 = 28 gives about 25 s from rest to top.
  BOOST_TEST(std::abs(28 * dcc::momentum_s_per_step(28, 0, 28) - 25.0) < 0.5);
}

BOOST_AUTO_TEST_CASE(trims) {  // check values 67 and 68, S-9.2.2 l. 272-275
  BOOST_TEST(dcc::trim_factor(128) == 1.0);
  BOOST_TEST(dcc::trim_factor(64) == 0.5);
  BOOST_TEST(dcc::trim_factor(255) == 1.9921875);
  BOOST_TEST(dcc::trim_factor(0) == 1.0);  // not used
  BOOST_TEST(120 * dcc::trim_factor(140) == 131.25);
}

BOOST_AUTO_TEST_CASE(trims_in_the_simulated_decoder) {  // check values 67 and 68 again, S-9.2.2 l. 272-275
  simulated::Decoder decoder({.drive_bits = 16, .cvs = {{29, 18}, {72, 120}, {66, 140}, {95, 0}, {94, 200}}});
  const ThrottleCommand step_6{6, Direction::forward, StepMode::steps28};
  BOOST_TEST(decoder.drive_share(step_6) * 255 == 131.25, boost::test_tools::tolerance(1e-4));
  BOOST_TEST(decoder.drive_share({6, Direction::reverse, StepMode::steps28}) * 255 == 120.0,
             boost::test_tools::tolerance(1e-4));
  decoder.set_cv(66, 200);  // 312.5, limited to full
  BOOST_TEST(decoder.drive_share({28, Direction::forward, StepMode::steps28}) == 1.0);
}

BOOST_AUTO_TEST_CASE(table_entries) {  // check value 69, S-9.2.2 l. 277-278
  BOOST_TEST(cv::table_entry(1) == 67);
  BOOST_TEST(cv::table_entry(14) == 80);
  BOOST_TEST(cv::table_entry(28) == 94);
  for (const int step : {1, 14, 28}) {
    simulated::Decoder decoder({.drive_bits = 8, .cvs = {{29, 18}, {66, 0}}});
    decoder.set_cv(66 + step, 77);
    BOOST_TEST(decoder.drive_share({step, Direction::forward, StepMode::steps28}) == 77 / 255.0,
               boost::test_tools::tolerance(1e-12));
  }
}

BOOST_AUTO_TEST_CASE(configuration) {  // check value 70, S-9.2.2 l. 214-233
  const dcc::Configuration read = dcc::read_configuration(58);
  BOOST_TEST(read.long_address);
  BOOST_TEST(read.speed_table);
  BOOST_TEST(read.bidirectional);
  BOOST_TEST(read.steps_28);
  BOOST_TEST(!read.direction_reversed);
  BOOST_TEST(!read.analog_allowed);
  for (const int value : {2, 6, 18, 34, 38, 50, 58, 59}) {
    const auto byte = static_cast<std::uint8_t>(value);
    BOOST_TEST(dcc::to_cv29(dcc::read_configuration(byte)) == byte);
  }
}

BOOST_AUTO_TEST_CASE(pwm_period) {  // check value 71, S-9.2.2 l. 87-93
  BOOST_TEST(dcc::pwm_period_us(255) == 32640);
  BOOST_TEST(dcc::pwm_period_us(0) == 131);
  BOOST_TEST(dcc::pwm_period_us(31) == 255);
  BOOST_TEST(dcc::pwm_period_us(32) == 262);
}

BOOST_AUTO_TEST_CASE(packet_time_out) {  // check value 72, S-9.2.4 l. 86-87
  BOOST_TEST(!dcc::packet_time_out_s(0).has_value());
  BOOST_TEST((dcc::packet_time_out_s(20) == 20.0));
}

BOOST_AUTO_TEST_CASE(consists) {
  // Check value 73, S-9.2.2 l. 137-140.
  BOOST_TEST((dcc::read_consist(138, 0) == dcc::Consist{dcc::VehicleAddress::short_form(10), true}));
  // Check value 74, RCN-225.
  BOOST_TEST((dcc::read_consist(162, 12) == dcc::Consist{dcc::VehicleAddress::long_form(1234), true}));
  BOOST_TEST((dcc::read_consist(39, 102) == dcc::Consist{dcc::VehicleAddress::long_form(10239), false}));
  BOOST_TEST(!dcc::read_consist(40, 102).has_value());
  BOOST_TEST(!dcc::read_consist(128, 0).has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
