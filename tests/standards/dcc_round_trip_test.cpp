// What must hold for every packet: sanity rules 1, 3, 4 and 5 of the check values, and that parsing undoes building.
#include <random>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/function_group.h"
#include "drivers/dcc/instruction.h"
#include "drivers/dcc/speed.h"
#include "drivers/dcc/vehicle_control.h"
#include "drivers/dcc/xpom.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

using dcc::VehicleAddress;

/// Parses a packet that must be undamaged and for `to`.
dcc::VehicleInstruction parsed(const dcc::Packet& packet, VehicleAddress to) {
  BOOST_TEST_REQUIRE(dcc::error_byte(packet) == 0);  // sanity rule 1, S-9.2 §B
  const auto instruction = dcc::parse(packet);
  BOOST_TEST_REQUIRE(instruction.has_value());
  const auto* found = std::get_if<dcc::ToVehicle>(&*instruction);
  BOOST_TEST_REQUIRE(found != nullptr);
  BOOST_TEST_REQUIRE((found->address == to));
  return found->instruction;
}

BOOST_AUTO_TEST_SUITE(dcc_round_trip)

BOOST_AUTO_TEST_CASE(every_speed) {  // sanity rule 3, S-9.2 Figure 2, S-9.2.1 §2.3.2.1
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    for (int step = 0; step <= 28; ++step) {
      const auto kind = step == 0 ? dcc::SpeedOrder::Kind::stop : dcc::SpeedOrder::Kind::run;
      const dcc::SpeedOrder order{kind, step, direction};
      const auto back = parsed(dcc::speed28(long_1234, direction, step), long_1234);
      BOOST_TEST_REQUIRE((std::get<dcc::BaselineSpeed>(back).in_28_steps() == order));
      BOOST_TEST_REQUIRE(
          (dcc::speed(short_3, {step, direction, StepMode::steps28}) == dcc::speed28(short_3, direction, step)));
    }
    for (int step = 0; step <= 126; ++step) {
      const auto kind = step == 0 ? dcc::SpeedOrder::Kind::stop : dcc::SpeedOrder::Kind::run;
      const auto back = parsed(dcc::speed126(short_3, direction, step), short_3);
      BOOST_TEST_REQUIRE((std::get<dcc::ExtendedSpeed>(back).order == dcc::SpeedOrder{kind, step, direction}));
    }
    for (int step = 0; step <= 14; ++step) {
      const auto kind = step == 0 ? dcc::SpeedOrder::Kind::stop : dcc::SpeedOrder::Kind::run;
      const auto back = std::get<dcc::BaselineSpeed>(parsed(dcc::speed14(short_3, direction, step, true), short_3));
      BOOST_TEST_REQUIRE((back.in_14_steps() == dcc::SpeedOrder{kind, step, direction}));
      BOOST_TEST_REQUIRE(back.bit_4());
    }
  }
}

BOOST_AUTO_TEST_CASE(every_cv) {  // sanity rule 4, S-9.2.1 §2.3.7.3
  for (int cv = 1; cv <= 1024; ++cv) {
    const auto value = static_cast<std::uint8_t>(cv * 7);
    const dcc::Packet write = dcc::write_cv(short_3, cv, value);
    BOOST_TEST_REQUIRE(write.bytes()[1] == 0xEC + (cv - 1) / 256);
    BOOST_TEST_REQUIRE(write.bytes()[2] == (cv - 1) % 256);
    BOOST_TEST_REQUIRE((parsed(write, short_3) == dcc::VehicleInstruction{dcc::CvWrite{cv, value}}));
    BOOST_TEST_REQUIRE(
        (parsed(dcc::verify_cv(long_9999, cv, value), long_9999) == dcc::VehicleInstruction{dcc::CvVerify{cv, value}}));
    BOOST_TEST_REQUIRE((parsed(dcc::write_cv_bit(short_3, cv, cv % 8, cv % 3 == 0), short_3) ==
                        dcc::VehicleInstruction{dcc::CvBit{cv, cv % 8, cv % 3 == 0, true}}));
    BOOST_TEST_REQUIRE((parsed(dcc::verify_cv_bit(short_3, cv, cv % 8, true), short_3) ==
                        dcc::VehicleInstruction{dcc::CvBit{cv, cv % 8, true, false}}));
  }
}

BOOST_AUTO_TEST_CASE(every_long_address) {  // sanity rule 5, S-9.2.2 l. 131-135
  for (int number = 1; number <= 10239; ++number) {
    const dcc::LongAddressCvs both = dcc::to_cv17_18(number);
    BOOST_TEST_REQUIRE((both.cv17 >= 192 && both.cv17 <= 231));
    BOOST_TEST_REQUIRE((dcc::from_cv17_18(both) == number));
  }
}

BOOST_AUTO_TEST_CASE(functions_consists_and_control) {  // S-9.2.1 §2.3.1, §2.3.4-2.3.6
  for (int group = 0; group < 10; ++group) {
    const auto name = static_cast<dcc::FunctionGroup>(group);
    for (int on = 0; on < 1 << dcc::functions_in(name); ++on) {
      const dcc::FunctionOrder order{name, static_cast<std::uint8_t>(on)};
      BOOST_TEST_REQUIRE((parsed(dcc::functions(short_3, name, order.on), short_3) == dcc::VehicleInstruction{order}));
    }
  }
  for (int consist = 0; consist <= 127; ++consist) {
    const dcc::ConsistControl order{consist, consist % 2 == 1};
    BOOST_TEST_REQUIRE((parsed(dcc::consist_control(long_1234, consist, order.reversed), long_1234) ==
                        dcc::VehicleInstruction{order}));
  }
}

BOOST_AUTO_TEST_CASE(xpom_and_long_form_differ_by_length_only) {  // S-9.2.1 §2.3.7.4
  const dcc::XpomAddress at = dcc::xpom_address(600);
  BOOST_TEST((parsed(dcc::xpom_read(short_3, 2, at), short_3) == dcc::VehicleInstruction{dcc::XpomRead{2, at}}));
  BOOST_TEST((parsed(dcc::xpom_write_bit(long_9999, 3, at, 6, true), long_9999) ==
              dcc::VehicleInstruction{dcc::XpomBitWrite{3, at, 6, true}}));
  const std::array<std::uint8_t, 4> values{9, 8, 7, 6};
  for (std::size_t count = 1; count <= 4; ++count) {
    const auto back = parsed(dcc::xpom_write(long_1234, 1, at, std::span(values).first(count)), long_1234);
    const auto& write = std::get<dcc::XpomWrite>(back);
    BOOST_TEST(write.count == count);
    BOOST_TEST((write.at == at));
    BOOST_TEST(write.values[count - 1] == values[count - 1]);
  }
  BOOST_CHECK_THROW(static_cast<void>(dcc::xpom_write(short_3, 0, at, {})), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::xpom_read(short_3, 4, at)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(anything_can_be_parsed) {  // S-9.2 l. 67-69: noise is ignored, and one wrong bit is noise
  std::mt19937 random(2);
  for (int round = 0; round < 20000; ++round) {
    std::vector<std::uint8_t> bytes(random() % 14);
    for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(random());
    if (round % 2 == 0 && !bytes.empty()) bytes.back() ^= dcc::error_byte(bytes);
    const bool whole = bytes.size() >= 3 && dcc::error_byte(bytes) == 0;
    BOOST_TEST_REQUIRE(dcc::parse(bytes).has_value() == whole);
    if (!whole) continue;
    bytes[random() % bytes.size()] ^= static_cast<std::uint8_t>(1 << random() % 8);
    BOOST_TEST_REQUIRE(!dcc::parse(bytes).has_value());
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
