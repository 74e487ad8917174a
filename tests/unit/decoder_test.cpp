// The simulated decoder's traits: table, trims, resolution, momentum, kick start, locks, and refused descriptions.
#include "drivers/simulated/decoder.h"

#include <boost/test/unit_test.hpp>
#include <cmath>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/speed.h"
#include "drivers/dcc/vehicle_control.h"

namespace lapwright {
namespace {

using simulated::Decoder;
using simulated::DecoderDescription;
constexpr Direction fwd = Direction::forward;
constexpr Direction rev = Direction::reverse;
const auto own = dcc::VehicleAddress::short_form(3);

double level(const Decoder& decoder, int step, StepMode mode = StepMode::steps28, Direction direction = fwd) {
  return decoder.drive_share({step, direction, mode}) * 255;
}

void write_twice(Decoder& decoder, int cv, std::uint8_t value) {
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(own, cv, value));
}

BOOST_AUTO_TEST_SUITE(decoder, *boost::unit_test::tolerance(1e-9))

BOOST_AUTO_TEST_CASE(three_point_curve) {  // S-9.2.2 l. 51-76, l. 171-177; straight lines are our choice
  Decoder decoder({.drive_bits = 8, .cvs = {{2, 10}, {5, 200}, {6, 62}, {29, 2}}});
  BOOST_TEST(level(decoder, 0) == 0.0);
  BOOST_TEST(level(decoder, 1) == 10.0);
  BOOST_TEST(level(decoder, 14) == 62.0);
  BOOST_TEST(level(decoder, 28) == 200.0);
  BOOST_TEST(level(decoder, 126, StepMode::steps126) == 200.0);
  decoder.set_cv(25, 138);  // the middle at step 10
  BOOST_TEST(level(decoder, 10) == 62.0);
  decoder.set_cv(6, 0);  // not used
  BOOST_TEST(level(decoder, 10) == std::round(10 + 190 * 9 / 27.0));
  decoder.set_cv(5, 1);  // not used: full
  BOOST_TEST(level(decoder, 28) == 255.0);
}

BOOST_AUTO_TEST_CASE(table) {
  Decoder decoder({.drive_bits = 8, .cvs = {{29, 18}, {2, 40}, {5, 200}, {67, 5}, {68, 15}, {94, 240}, {66, 0}}});
  BOOST_TEST(level(decoder, 1) == 5.0);
  BOOST_TEST(level(decoder, 28) == 240.0);
  BOOST_TEST(level(decoder, 1, StepMode::steps126) == 5.0);
  BOOST_TEST(level(decoder, 126, StepMode::steps126) == 240.0);
  BOOST_TEST(level(decoder, 2, StepMode::steps126) == std::round(5 + 10 * 27 / 125.0));  // linear between entries
  DecoderDescription scaled{.table_scaled = true, .drive_bits = 8, .cvs = {{29, 18}, {2, 40}, {5, 200}, {67, 51}}};
  BOOST_TEST(level(Decoder(scaled), 1) == 72.0);
  BOOST_TEST(level(Decoder(scaled), 28) == 200.0);
}

BOOST_AUTO_TEST_CASE(trims_act_or_not) {
  DecoderDescription description{.drive_bits = 10, .cvs = {{29, 18}, {80, 100}, {66, 160}, {95, 96}}};
  BOOST_TEST(std::abs(level(Decoder(description), 14) - 125) < 0.13);
  BOOST_TEST(std::abs(level(Decoder(description), 14, StepMode::steps28, rev) - 75) < 0.13);
  description.trims_act = false;
  Decoder without(description);
  BOOST_TEST(std::abs(level(without, 14) - 100) < 0.13);
  write_twice(without, 66, 77);
  BOOST_TEST(without.cv(66) == 77);  // stored, and ignored
  BOOST_TEST(std::abs(level(without, 14) - 100) < 0.13);
}

BOOST_AUTO_TEST_CASE(drive_is_rounded_or_cut_off) {
  DecoderDescription description{.drive_bits = 9, .cvs = {{29, 18}, {80, 100}, {66, 100}}};
  // 100 × 100/128 of 255 are 156.56 of 511 levels.
  BOOST_TEST(std::abs(level(Decoder(description), 14) - 157 * 255 / 511.0) < 1e-9);
  description.drive_cut_off = true;
  BOOST_TEST(std::abs(level(Decoder(description), 14) - 156 * 255 / 511.0) < 1e-9);
  description.cvs = {{29, 18}, {80, 255}, {66, 128}};  // full drive is all levels, not one less
  BOOST_TEST(level(Decoder(description), 14) == 255.0);
}

BOOST_AUTO_TEST_CASE(missing_table_cannot_be_switched_on) {  // S-9.2.2, notes after CV27-29
  Decoder decoder({.table_implemented = false});
  write_twice(decoder, 29, 18);
  BOOST_TEST(decoder.cv(29) == 2);
  Decoder no_bits({.bit_writes = false});
  for (int copy = 0; copy < 3; ++copy) no_bits.receive(dcc::write_cv_bit(own, 29, 4, true));
  BOOST_TEST(no_bits.cv(29) == 2);
}

BOOST_AUTO_TEST_CASE(momentum_by_steps) {  // S-9.2.2 l. 57-64: CV3 · 0.896 / 28 = 0.32 s per step
  Decoder decoder({.drive_bits = 8, .regulated = false, .cvs = {{29, 18}, {3, 10}, {4, 5}, {66, 0}, {95, 0}}});
  for (int step = 1; step <= 28; ++step) decoder.set_cv(66 + step, static_cast<std::uint8_t>(9 * step));
  decoder.receive(dcc::speed28(own, fwd, 28));
  double at_s = 0;
  const auto step_after = [&](double seconds) {
    double share = 0;
    for (const double until_s = at_s + seconds; at_s < until_s - 1e-6; at_s += 0.001) share = decoder.advance(0.001, 0);
    return std::lround(share * 255 / 9);
  };
  BOOST_TEST(step_after(0.31) == 0);
  BOOST_TEST(step_after(0.02) == 1);
  BOOST_TEST(step_after(0.32 * 9) == 10);
  decoder.receive(dcc::speed28(own, rev, 28));  // through standstill
  BOOST_TEST(step_after(0.162 * 10) == 0);
  BOOST_TEST(step_after(0.32 * 2) == -2);
  decoder.receive(dcc::emergency_stop(own, rev));
  BOOST_TEST(step_after(0.001) == 0);
}

BOOST_AUTO_TEST_CASE(write_in_motion_acts_at_once) {
  Decoder decoder({.drive_bits = 8, .regulated = false, .cvs = {{29, 18}, {3, 0}, {4, 0}, {66, 0}}});
  decoder.receive(dcc::speed28(own, fwd, 10));
  static_cast<void>(decoder.advance(0.001, 0));
  write_twice(decoder, 76, 123);
  BOOST_TEST(decoder.advance(0.001, 0) == 123 / 255.0);
  decoder.power_cycle();
  BOOST_TEST(decoder.advance(0.001, 0) == 0.0);
  BOOST_TEST(decoder.cv(76) == 123);
}

BOOST_AUTO_TEST_CASE(kick_start) {
  Decoder decoder({.drive_bits = 8, .regulated = false, .cvs = {{2, 10}, {3, 0}, {4, 0}, {65, 41}}});
  decoder.receive(dcc::speed28(own, fwd, 1));
  BOOST_TEST(decoder.advance(0.001, 0) == 51 / 255.0);
  for (int ms = 0; ms < 120; ++ms) static_cast<void>(decoder.advance(0.001, 0));
  BOOST_TEST(decoder.advance(0.001, 0) == 10 / 255.0);
  decoder.receive(dcc::speed28(own, fwd, 28));
  static_cast<void>(decoder.advance(0.001, 0));
  decoder.receive(dcc::speed28(own, fwd, 1));  // already moving: no kick
  BOOST_TEST(decoder.advance(0.001, 0) == 10 / 255.0);
}

BOOST_AUTO_TEST_CASE(regulation_starts_afresh_after_a_reversal) {
  Decoder fresh({.cvs = {{3, 0}, {4, 0}}});
  Decoder turned({.cvs = {{3, 0}, {4, 0}}});
  turned.receive(dcc::speed28(own, fwd, 14));
  for (int ms = 0; ms < 995; ++ms) static_cast<void>(turned.advance(0.001, 0.3));
  turned.receive(dcc::speed28(own, rev, 14));
  fresh.receive(dcc::speed28(own, rev, 14));
  BOOST_TEST(turned.advance(0.001, -0.4) == fresh.advance(0.001, -0.4));
}

BOOST_AUTO_TEST_CASE(direction_bit) {  // S-9.2.2 l. 214-233: CV29 bit 0
  Decoder decoder({.regulated = false, .cvs = {{29, 3}, {3, 0}, {4, 0}}});
  decoder.receive(dcc::speed28(own, fwd, 28));
  BOOST_TEST(decoder.inverted());
  BOOST_TEST(decoder.advance(0.001, 0) == -1.0);
}

BOOST_AUTO_TEST_CASE(lock_and_read_only) {  // S-9.2.2 l. 78-85, l. 122-129
  Decoder decoder({.cvs = {{15, 1}, {16, 2}, {2, 9}}});
  write_twice(decoder, 2, 50);
  BOOST_TEST(decoder.cv(2) == 9);
  write_twice(decoder, 15, 2);
  write_twice(decoder, 2, 50);
  BOOST_TEST(decoder.cv(2) == 50);
  write_twice(decoder, 8, 8);  // in operations mode no reset
  BOOST_TEST(decoder.cv(2) == 50);
  BOOST_TEST(decoder.cv(8) == 13);
  decoder.set_cv(8, 8);  // on the bench all factory values
  BOOST_TEST(decoder.cv(2) == 3);
}

BOOST_AUTO_TEST_CASE(new_short_address) {  // S-9.2.3 l. 143-145: clears CV29 bit 5 and CV19
  Decoder decoder({.cvs = {{29, 34}, {19, 5}}});
  const auto long_1000 = dcc::VehicleAddress::long_form(1000);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(long_1000, 1, 44));
  BOOST_TEST(decoder.cv(1) == 44);
  BOOST_TEST(decoder.cv(29) == 2);
  BOOST_TEST(decoder.cv(19) == 0);
  for (const int none : {0, 128}) {  // no short address: refused, or the decoder would be out of reach
    for (int copy = 0; copy < 2; ++copy) {
      decoder.receive(dcc::write_cv(dcc::VehicleAddress::short_form(44), 1, static_cast<std::uint8_t>(none)));
    }
    BOOST_TEST(decoder.cv(1) == 44);
  }
}

BOOST_AUTO_TEST_CASE(hard_reset) {  // S-9.2.1 l. 146-174: CV29, 31, 32, 19, not the table
  Decoder decoder({.cvs = {{29, 18}, {67, 99}, {19, 4}}});
  decoder.receive(dcc::decoder_control(own, dcc::DecoderControl::hard_reset));
  BOOST_TEST(decoder.cv(29) == 2);
  BOOST_TEST(decoder.cv(19) == 0);
  BOOST_TEST(decoder.cv(67) == 99);
}

BOOST_AUTO_TEST_CASE(refused_descriptions) {
  BOOST_CHECK_THROW(Decoder({.drive_bits = 5}), std::invalid_argument);
  BOOST_CHECK_THROW(Decoder({.regulation = 1.5}), std::invalid_argument);
  BOOST_CHECK_THROW(Decoder({.cvs = {{300, 1}}}), std::invalid_argument);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
