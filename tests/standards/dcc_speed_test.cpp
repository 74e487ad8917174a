// Speed packets and stops against the published tables: check values 1-24, 96-99, 104 (NMRA S-9.2, S-9.2.1, S-9.1).
#include <array>

#include "drivers/dcc/instruction.h"
#include "drivers/dcc/speed.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

using dcc::SpeedOrder;
using dcc::VehicleAddress;
using Kind = SpeedOrder::Kind;

BOOST_AUTO_TEST_SUITE(dcc_speed)

BOOST_AUTO_TEST_CASE(packets_for_everybody) {
  check_rows({{1, dcc::idle(), "FF 00 FF", "S-9.2 §B"},
              {2, dcc::reset(), "00 00 00", "S-9.2 §B"},
              {3, dcc::broadcast_stop(fwd, false, false), "00 60 60", "S-9.2 l. 99-112"},
              {4, dcc::broadcast_stop(fwd, true, true), "00 71 71", "S-9.2 l. 99-112"},
              {5, dcc::broadcast_stop(rev, false, true), "00 41 41", "S-9.2 l. 99-112"}});
}

BOOST_AUTO_TEST_CASE(packets_of_28_steps) {
  check_rows({{6, dcc::speed28(VehicleAddress::short_form(55), fwd, 6), "37 74 43", "S-9.2 Figure 1, printed there"},
              {8, dcc::speed28(short_3, fwd, 1), "03 62 61", "S-9.2 Figure 2"},
              {9, dcc::speed28(short_3, fwd, 2), "03 72 71", "S-9.2 Figure 2"},
              {10, dcc::speed28(short_3, rev, 28), "03 5F 5C", "S-9.2 Figure 2"},
              {11, dcc::speed28(VehicleAddress::short_form(127), fwd, 15), "7F 69 16", "S-9.2 Figure 2"},
              {12, dcc::speed28(long_1234, fwd, 14), "C4 D2 78 6E", "S-9.2, S-9.2.1 §2.3"},
              {13, dcc::speed28(short_3, fwd, 0), "03 60 63", "S-9.2 Figure 2"},
              {14, dcc::emergency_stop(short_3, fwd), "03 61 62", "S-9.2 Figure 2"}});
}

BOOST_AUTO_TEST_CASE(packets_of_126_steps) {
  const auto long_10239 = VehicleAddress::long_form(10239);
  check_rows({{17, dcc::speed126(short_3, fwd, 1), "03 3F 82 BE", "S-9.2.1 §2.3.2.1"},
              {18, dcc::speed126(short_3, fwd, 126), "03 3F FF C3", "S-9.2.1 §2.3.2.1"},
              {19, dcc::speed126(short_3, rev, 126), "03 3F 7F 43", "S-9.2.1 §2.3.2.1"},
              {20, dcc::speed126(short_3, fwd, 0), "03 3F 80 BC", "S-9.2.1 §2.3.2.1"},
              {21, dcc::emergency_stop126(short_3, rev), "03 3F 01 3D", "S-9.2.1 §2.3.2.1"},
              {22, dcc::speed126(long_1234, fwd, 100), "C4 D2 3F E5 CC", "S-9.2.1 §2.3.2.1"},
              {23, dcc::speed126(long_10239, rev, 1), "E7 FF 3F 02 25", "S-9.2.1 §2.3.2.1"}});
}

// S-9.2 Figure 2: CSSSS of steps 1 … 28 with the forward bit set.
BOOST_AUTO_TEST_CASE(whole_table_of_28_steps) {
  constexpr std::array<std::uint8_t, 28> forward{0x62, 0x72, 0x63, 0x73, 0x64, 0x74, 0x65, 0x75, 0x66, 0x76,
                                                 0x67, 0x77, 0x68, 0x78, 0x69, 0x79, 0x6A, 0x7A, 0x6B, 0x7B,
                                                 0x6C, 0x7C, 0x6D, 0x7D, 0x6E, 0x7E, 0x6F, 0x7F};
  for (int step = 1; step <= 28; ++step) {
    const std::uint8_t byte = forward[static_cast<std::size_t>(step - 1)];
    BOOST_TEST(dcc::speed28(short_3, fwd, step).bytes()[1] == byte);
    BOOST_TEST(dcc::speed28(short_3, rev, step).bytes()[1] == byte - 0x20);
  }
}

BOOST_AUTO_TEST_CASE(meaning_of_baseline_bytes) {
  // Check value 7, S-9.2 Figure 2: byte 67 is step 11, whatever an example in NEM 671 calls it.
  BOOST_TEST((dcc::BaselineSpeed{0x67}.in_28_steps() == SpeedOrder{Kind::run, 11, fwd}));
  // Check value 15, S-9.2.1 l. 263-266: CV29 bit 1 = 0.
  BOOST_TEST((dcc::BaselineSpeed{0x7F}.in_14_steps() == SpeedOrder{Kind::run, 14, fwd}));
  BOOST_TEST(dcc::BaselineSpeed{0x7F}.bit_4());
  // Check value 16, S-9.2.1 l. 262: CV29 bit 1 = 1.
  BOOST_TEST((dcc::BaselineSpeed{0x7F}.in_28_steps() == SpeedOrder{Kind::run, 28, fwd}));
  // S-9.2 Figure 2: both codes of each stop.
  for (const auto byte : std::array<std::uint8_t, 2>{0x60, 0x70}) {
    BOOST_TEST((dcc::BaselineSpeed{byte}.in_28_steps() == SpeedOrder{Kind::stop, 0, fwd}));
  }
  for (const auto byte : std::array<std::uint8_t, 2>{0x41, 0x51}) {
    BOOST_TEST((dcc::BaselineSpeed{byte}.in_28_steps() == SpeedOrder{Kind::emergency_stop, 0, rev}));
  }
  // S-9.2.1 §2.3.3, 14 steps with FL: [03 7F 7C] and [03 62 61].
  BOOST_TEST(hex(dcc::speed14(short_3, fwd, 14, true)) == "03 7F 7C");
  BOOST_TEST(hex(dcc::speed14(short_3, fwd, 1, false)) == "03 62 61");
}

BOOST_AUTO_TEST_CASE(number_of_running_steps) {  // check value 24, S-9.2.1 l. 227-266; S-9.2
  BOOST_TEST(top_step(StepMode::steps28) == 28);
  BOOST_TEST(top_step(StepMode::steps126) == 126);
  BOOST_CHECK_THROW(static_cast<void>(dcc::speed14(short_3, fwd, 15, false)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::speed28(short_3, fwd, 29)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::speed126(short_3, fwd, 127)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::speed28(short_3, fwd, -1)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(durations) {  // check values 96-99, S-9.1 Table 2.1 with S-9.2 §A and l. 116-118
  BOOST_TEST(dcc::duration_us(dcc::idle(), 14) == 5796);
  BOOST_TEST(dcc::duration_us(dcc::reset(), 14) == 7140);
  const int gap_us = 14 * dcc::one_bit_us;  // back to back only the next preamble lies between end and start bit
  BOOST_TEST(gap_us == 1624);
  BOOST_TEST(dcc::duration_us(dcc::idle(), 14) + gap_us == 7420);
  const auto write = dcc::Packet::received(std::array<std::uint8_t, 6>{0xC4, 0xD2, 0xEC, 0x41, 0x80, 0x3B});
  BOOST_TEST(dcc::duration_us(write, 16) == 11092);  // S-9.2 §A, worked example
}

BOOST_AUTO_TEST_CASE(damaged_packets_are_ignored) {  // check value 104, S-9.2 l. 67-69
  const std::array<std::uint8_t, 3> damaged{0x37, 0x74, 0x42};
  BOOST_TEST(!dcc::parse(damaged).has_value());
  const std::array<std::uint8_t, 2> cut{0x37, 0x37};
  BOOST_TEST(!dcc::parse(cut).has_value());
  BOOST_TEST(!dcc::parse({}).has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
