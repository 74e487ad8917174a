// The simulated decoder obeys the standard: check values 46-54, 77 and 104, the stops, momentum, the reply dialogue.
#include <array>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/function_group.h"
#include "drivers/dcc/speed.h"
#include "drivers/dcc/vehicle_control.h"
#include "drivers/simulated/decoder.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

using dcc::VehicleAddress;
using simulated::Decoder;

/// Open loop without momentum: the motor gets exactly the drive level.
Decoder plain() { return Decoder({.regulated = false, .cvs = {{3, 0}, {4, 0}, {66, 50}}}); }

BOOST_AUTO_TEST_SUITE(dcc_decoder)

BOOST_AUTO_TEST_CASE(one_write_changes_nothing) {  // check value 46, S-9.2.1 l. 522-525
  Decoder decoder = plain();
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  decoder.receive(dcc::speed28(short_3, fwd, 5));
  BOOST_TEST(decoder.cv(66) == 50);
}

BOOST_AUTO_TEST_CASE(own_packet_in_between_cancels) {  // check value 47, S-9.2.1 l. 523-525
  for (const dcc::Packet& between :
       {dcc::speed28(short_3, fwd, 5), dcc::functions(short_3, dcc::FunctionGroup::f0_f4, 1),
        dcc::verify_cv(short_3, 66, 128), dcc::write_cv(short_3, 67, 128)}) {
    Decoder decoder = plain();
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    decoder.receive(between);
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    BOOST_TEST(decoder.cv(66) == 50);
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    BOOST_TEST(decoder.cv(66) == 128);
  }
}

BOOST_AUTO_TEST_CASE(broadcast_in_between_cancels) {  // check value 48, S-9.2.1 l. 523-525
  for (const dcc::Packet& between : {dcc::broadcast_stop(fwd, true, false), dcc::reset()}) {
    Decoder decoder = plain();
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    decoder.receive(between);
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    BOOST_TEST(decoder.cv(66) == 50);
  }
}

BOOST_AUTO_TEST_CASE(others_packets_in_between_do_not) {  // check value 49, S-9.2.1 l. 523; S-9.2 l. 95-97
  Decoder decoder = plain();
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  decoder.receive(dcc::idle());
  decoder.receive(dcc::speed28(VehicleAddress::short_form(4), fwd, 9));
  decoder.receive(dcc::speed28(VehicleAddress::long_form(3), fwd, 9));
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  BOOST_TEST(decoder.cv(66) == 128);
}

BOOST_AUTO_TEST_CASE(damaged_packet_is_no_packet) {  // check value 104, S-9.2 l. 67-69
  Decoder decoder = plain();
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  const std::array<std::uint8_t, 3> damaged{0x03, 0x62, 0x60};
  decoder.receive(damaged);
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  BOOST_TEST(decoder.cv(66) == 128);
}

BOOST_AUTO_TEST_CASE(two_different_writes_change_nothing) {  // check value 50, S-9.2.1 l. 522-525
  Decoder decoder = plain();
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  decoder.receive(dcc::write_cv(short_3, 66, 129));
  BOOST_TEST(decoder.cv(66) == 50);
}

BOOST_AUTO_TEST_CASE(consist_address_writes_nothing) {  // check value 51, S-9.2.1 l. 498-499
  Decoder decoder = plain();
  decoder.receive(dcc::consist_control(short_3, 10, false));
  BOOST_TEST(decoder.cv(19) == 10);
  const auto consist = VehicleAddress::short_form(10);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(consist, 66, 128));
  BOOST_TEST(decoder.cv(66) == 50);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(short_3, 66, 128));
  BOOST_TEST(decoder.cv(66) == 128);
}

BOOST_AUTO_TEST_CASE(half_a_long_address_waits) {  // check value 52, S-9.2.1:2012 footnote on paired CVs
  Decoder decoder({.regulated = false, .cvs = {{17, 195}, {18, 232}, {29, 34}, {3, 0}, {4, 0}}});
  const auto long_1000 = VehicleAddress::long_form(1000);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(long_1000, 17, 196));
  BOOST_TEST(decoder.cv(17) == 195);
  decoder.receive(dcc::speed28(long_1000, fwd, 28));
  BOOST_TEST(decoder.advance(0.001, 0) == 1.0);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv(long_1000, 18, 210));
  BOOST_TEST(decoder.cv(17) == 196);
  BOOST_TEST(decoder.cv(18) == 210);
  decoder.receive(dcc::speed28(long_1234, fwd, 0));
  BOOST_TEST(decoder.advance(0.001, 0) == 0.0);
}

BOOST_AUTO_TEST_CASE(short_forms) {
  Decoder decoder = plain();
  decoder.receive(dcc::adjust_acceleration(short_3, 5));  // check value 53, S-9.2.1 Table 2.1: one packet
  BOOST_TEST(decoder.cv(23) == 5);
  const dcc::Packet address = dcc::set_long_address(short_3, 1234);
  decoder.receive(address);  // check value 54, S-9.2.1 Table 2.1: two packets
  BOOST_TEST(decoder.cv(29) == 2);
  decoder.receive(address);
  BOOST_TEST(decoder.cv(17) == 196);
  BOOST_TEST(decoder.cv(18) == 210);
  BOOST_TEST(decoder.cv(29) == 34);
}

BOOST_AUTO_TEST_CASE(in_a_consist_the_own_address_drives_nothing) {  // check value 77, S-9.2.1 l. 188-190
  Decoder decoder = plain();
  decoder.set_cv(19, 10);
  decoder.receive(dcc::speed28(short_3, fwd, 28));
  BOOST_TEST(decoder.advance(0.001, 0) == 0.0);
  decoder.receive(dcc::speed28(VehicleAddress::short_form(10), fwd, 28));
  BOOST_TEST(decoder.advance(0.001, 0) == 1.0);
  decoder.set_cv(19, 138);  // S-9.2.2 l. 137-140: reversed
  decoder.receive(dcc::speed28(VehicleAddress::short_form(10), fwd, 28));
  BOOST_TEST(decoder.advance(0.001, 0) == -1.0);
  BOOST_TEST(decoder.inverted());
  decoder.receive(dcc::broadcast_leave_consists());  // RCN-212 (digest)
  BOOST_TEST(decoder.cv(19) == 0);
}

BOOST_AUTO_TEST_CASE(functions_followed_in_a_consist) {
  // Common practice, no source: CV21 = 240 when F5 to F8 are followed; the bits are those of S-9.2.2 l. 142-146.
  Decoder decoder = plain();
  decoder.set_cv(19, 10);
  decoder.set_cv(21, 240);
  const auto consist = VehicleAddress::short_form(10);
  decoder.receive(dcc::functions(consist, dcc::FunctionGroup::f0_f4, 0x1F));
  decoder.receive(dcc::functions(consist, dcc::FunctionGroup::f5_f8, 0x0F));
  for (int number = 0; number <= 8; ++number) BOOST_TEST(decoder.function_on(number) == (number >= 5));
  decoder.receive(dcc::functions(short_3, dcc::FunctionGroup::f5_f8, 0x00));  // S-9.2.1: the own address still works
  BOOST_TEST(!decoder.function_on(5));
}

BOOST_AUTO_TEST_CASE(bit_writes) {  // S-9.2.1 l. 528-541, check values 44 and 45
  Decoder decoder = plain();
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv_bit(short_3, 29, 4, true));
  BOOST_TEST(decoder.cv(29) == 18);
  for (int copy = 0; copy < 2; ++copy) decoder.receive(dcc::write_cv_bit(short_3, 29, 4, false));
  BOOST_TEST(decoder.cv(29) == 2);
}

BOOST_AUTO_TEST_CASE(stops) {  // S-9.2 §B, Figure 2; NEM 671 §4.4: the stop under momentum, the others at once
  const auto running = [] {
    Decoder decoder({.regulated = false, .cvs = {{3, 0}, {4, 10}}});
    decoder.receive(dcc::speed28(short_3, fwd, 28));
    static_cast<void>(decoder.advance(0.001, 0));
    return decoder;
  };
  for (const dcc::Packet& at_once :
       {dcc::emergency_stop(short_3, fwd), dcc::emergency_stop126(short_3, rev), dcc::reset(),
        dcc::broadcast_stop(fwd, true, true), dcc::broadcast_stop(rev, false, true)}) {
    Decoder decoder = running();
    decoder.receive(at_once);
    BOOST_TEST(decoder.advance(0.001, 0) == 0.0);
  }
  for (const dcc::Packet& slowly : {dcc::speed28(short_3, fwd, 0), dcc::speed126(short_3, fwd, 0),
                                    dcc::broadcast_stop(fwd, false, false), dcc::broadcast_stop(fwd, true, false)}) {
    Decoder decoder = running();
    decoder.receive(slowly);
    BOOST_TEST(decoder.advance(0.001, 0) == 1.0);
    BOOST_TEST(decoder.advance(8.9, 0) > 0.0);  // CV4 = 10: 8.96 s from top to rest, S-9.2.2 l. 63-64
    BOOST_TEST(decoder.advance(0.1, 0) == 0.0);
  }
}

BOOST_AUTO_TEST_CASE(packet_time_out) {  // S-9.2.4 §4: no packet for this decoder, and everything stops
  Decoder decoder = plain();
  decoder.set_cv(11, 20);
  decoder.receive(dcc::speed28(short_3, fwd, 28));
  BOOST_TEST(decoder.advance(19.9, 0) == 1.0);
  decoder.receive(dcc::speed28(short_3, fwd, 28));
  BOOST_TEST(decoder.advance(19.9, 0) == 1.0);
  decoder.receive(dcc::idle());
  decoder.receive(dcc::speed28(VehicleAddress::short_form(4), fwd, 28));
  decoder.receive(dcc::broadcast_leave_consists());  // nor is one for everybody addressed to this decoder
  BOOST_TEST(decoder.advance(0.2, 0) == 0.0);
}

BOOST_AUTO_TEST_CASE(step_modes) {  // S-9.2.1 l. 253-266: CV29 bit 1
  Decoder decoder({.drive_bits = 8, .regulated = false, .cvs = {{2, 10}, {3, 0}, {4, 0}, {29, 0}}});
  const std::array<std::uint8_t, 3> packet{0x03, 0x72, 0x71};  // step 2 of 28; step 1 of 14 with FL
  decoder.receive(packet);
  BOOST_TEST(decoder.advance(0.001, 0) == 10 / 255.0, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(decoder.function_on(0));
  decoder.receive(dcc::speed14(short_3, fwd, 14, false));
  BOOST_TEST(decoder.advance(0.001, 0) == 1.0);
  BOOST_TEST(!decoder.function_on(0));
}

BOOST_AUTO_TEST_CASE(read_dialogue) {  // RCN-217 §5.1: the value comes in a repetition of the same command
  Decoder decoder({.answers_reads = true, .cvs = {{66, 145}}});
  decoder.receive(dcc::verify_cv(short_3, 66, 0));
  BOOST_TEST(!decoder.reply().has_value());
  decoder.receive(dcc::idle());
  BOOST_TEST(!decoder.reply().has_value());
  decoder.receive(dcc::verify_cv(short_3, 66, 0));
  BOOST_TEST((decoder.reply() == 145));
  for (int copy = 0; copy < 2; ++copy) {
    decoder.receive(dcc::write_cv(short_3, 66, 128));
    BOOST_TEST(!decoder.reply().has_value());
  }
  decoder.receive(dcc::write_cv(short_3, 66, 128));
  BOOST_TEST((decoder.reply() == 128));
  for (int copy = 0; copy < 3; ++copy) decoder.receive(dcc::write_cv(short_3, 7, 99));
  BOOST_TEST((decoder.reply() == 1));  // read-only: its present value
  for (int copy = 0; copy < 3; ++copy) decoder.receive(dcc::write_cv_bit(short_3, 29, 4, true));
  BOOST_TEST((decoder.reply() == 26));  // a bit write answers with the whole byte
  for (int copy = 0; copy < 3; ++copy) decoder.receive(dcc::verify_cv(short_3, 300, 0));
  BOOST_TEST(!decoder.reply().has_value());  // no such CV
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
