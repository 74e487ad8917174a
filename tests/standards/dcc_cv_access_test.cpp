// Addresses, functions, CV access, consists, service mode: check values 25-45, 53-62, 75, 76 (NMRA S-9.2.1, S-9.2.3).
#include <array>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/function_group.h"
#include "drivers/dcc/instruction.h"
#include "drivers/dcc/service_mode.h"
#include "drivers/dcc/vehicle_control.h"
#include "drivers/dcc/xpom.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

using dcc::FunctionGroup;
using dcc::VehicleAddress;

BOOST_AUTO_TEST_SUITE(dcc_cv_access)

BOOST_AUTO_TEST_CASE(addresses) {
  // Check values 25-28, S-9.2.1 l. 77, l. 103-110.
  BOOST_TEST(hex(VehicleAddress::long_form(128).bytes()) == "C0 80");
  BOOST_TEST(hex(VehicleAddress::long_form(3).bytes()) == "C0 03");
  BOOST_TEST(hex(VehicleAddress::short_form(3).bytes()) == "03");
  BOOST_TEST((VehicleAddress::long_form(3) != VehicleAddress::short_form(3)));
  BOOST_TEST((dcc::from_cv17_18({0xE7, 0xFF}) == 10239));
  BOOST_TEST((dcc::partition(0xE7) == dcc::Partition::long_vehicle));
  BOOST_TEST((dcc::partition(0xE8) == dcc::Partition::reserved));
  const std::array<std::uint8_t, 4> reserved{0xE8, 0x00, 0x60, 0x88};
  BOOST_TEST((dcc::parse(reserved) == dcc::Instruction{dcc::Unread{}}));
  const std::array<std::uint8_t, 3> not_idle{0xFF, 0x01, 0xFE};
  BOOST_TEST((dcc::parse(not_idle) == dcc::Instruction{dcc::Unread{}}));
  BOOST_CHECK_THROW(static_cast<void>(VehicleAddress::long_form(10240)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(VehicleAddress::short_form(128)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(VehicleAddress::short_form(0)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(long_address_in_cvs) {
  // Check values 59 and 61, S-9.2.2 l. 131-135; check value 60, printed in RCN-225.
  BOOST_TEST((dcc::to_cv17_18(1234) == dcc::LongAddressCvs{196, 210}));
  BOOST_TEST((dcc::to_cv17_18(1000) == dcc::LongAddressCvs{195, 232}));
  BOOST_TEST((dcc::from_cv17_18({231, 15}) == 9999));
  // Check value 62, S-9.2.2 l. 133-135; address 0 is not allowed by RCN-225.
  BOOST_TEST(!dcc::from_cv17_18({191, 0}).has_value());
  BOOST_TEST(!dcc::from_cv17_18({232, 0}).has_value());
  BOOST_TEST(!dcc::from_cv17_18({192, 0}).has_value());
}

BOOST_AUTO_TEST_CASE(function_groups) {
  check_rows({{29, dcc::functions(short_3, FunctionGroup::f0_f4, 0b00011), "03 91 92", "S-9.2.1 §2.3.4"},
              {30, dcc::functions(short_3, FunctionGroup::f5_f8, 0b0001), "03 B1 B2", "S-9.2.1 §2.3.5"},
              {31, dcc::functions(short_3, FunctionGroup::f9_f12, 0b1000), "03 A8 AB", "S-9.2.1 §2.3.5"},
              {32, dcc::functions(long_1234, FunctionGroup::f13_f20, 0x01), "C4 D2 DE 01 C9", "S-9.2.1 §2.3.6.5"},
              {33, dcc::functions(short_3, FunctionGroup::f21_f28, 0x80), "03 DF 80 5C", "S-9.2.1 §2.3.6.6"}});
  BOOST_TEST(hex(dcc::functions(short_3, FunctionGroup::f29_f36, 0x01)) == "03 D8 01 DA");  // S-9.2.1:2025 §2.3.6
  BOOST_CHECK_THROW(static_cast<void>(dcc::functions(short_3, FunctionGroup::f5_f8, 0x10)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(long_form) {
  const char* source = "S-9.2.1 §2.3.7.3";
  check_rows({{34, dcc::write_cv(short_3, 66, 128), "03 EC 41 80 2E", source},
              {35, dcc::write_cv(short_3, 1, 5), "03 EC 00 05 EA", source},
              {36, dcc::write_cv(short_3, 67, 10), "03 EC 42 0A A7", source},
              {37, dcc::write_cv(short_3, 94, 255), "03 EC 5D FF 4D", source},
              {38, dcc::write_cv(short_3, 256, 1), "03 EC FF 01 11", source},
              {39, dcc::write_cv(short_3, 257, 1), "03 ED 00 01 EF", source},
              {40, dcc::write_cv(short_3, 1024, 7), "03 EF FF 07 14", source},
              {41, dcc::write_cv(long_1234, 66, 128), "C4 D2 EC 41 80 3B", source},
              {42, dcc::write_cv(long_9999, 95, 100), "E7 0F EC 5E 64 3E", source},
              {43, dcc::verify_cv(short_3, 66, 0), "03 E4 41 00 A6", source},
              {44, dcc::write_cv_bit(short_3, 29, 4, true), "03 E8 1C FC 0B", "S-9.2.1 l. 528-541"},
              {45, dcc::write_cv_bit(short_3, 29, 4, false), "03 E8 1C F4 03", "S-9.2.1 l. 528-541"}});
  BOOST_TEST(hex(dcc::verify_cv_bit(short_3, 29, 5, true)) == "03 E8 1C ED 1A");  // S-9.2.1 l. 528-541
  BOOST_CHECK_THROW(static_cast<void>(dcc::write_cv(short_3, 0, 1)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::write_cv(short_3, 1025, 1)), std::out_of_range);
  BOOST_CHECK_THROW(static_cast<void>(dcc::write_cv_bit(short_3, 29, 8, true)), std::out_of_range);
}

BOOST_AUTO_TEST_CASE(short_form_and_xpom) {
  check_rows({{53, dcc::adjust_acceleration(short_3, 5), "03 F2 05 F4", "S-9.2.1 Table 2.1"},
              {54, dcc::set_long_address(short_3, 1234), "03 F4 C4 D2 E1", "S-9.2.1 Table 2.1"},
              {55, dcc::xpom_read(short_3, 0, dcc::xpom_address(67)), "03 E4 00 00 42 A5", "S-9.2.1 §2.3.7.4"}});
  BOOST_TEST(hex(dcc::adjust_deceleration(short_3, 133)) == "03 F3 85 75");    // S-9.2.1 Table 2.1
  BOOST_TEST(hex(dcc::set_index(short_3, 16, 0)) == "03 F5 10 00 E6");         // S-9.2.1 Table 2.1
  BOOST_TEST(hex(dcc::set_consist_cvs(short_3, 34, 12)) == "03 F6 22 0C DB");  // S-9.2.1 Table 2.1
  const std::array<std::uint8_t, 4> values{8, 16, 24, 32};
  BOOST_TEST(hex(dcc::xpom_write(short_3, 0, dcc::xpom_address(67), values)) ==
             "03 EC 00 00 42 08 10 18 20 8D");  // S-9.2.1 §2.3.7.4
  BOOST_TEST(hex(dcc::xpom_write_bit(short_3, 1, dcc::xpom_address(29), 4, true)) ==
             "03 E9 00 00 1C FC 0A");  // S-9.2.1 §2.3.7.4
}

BOOST_AUTO_TEST_CASE(service_mode) {
  namespace service = dcc::service;
  check_rows({{56, service::write_cv(1, 3), "7C 00 03 7F", "S-9.2.3 l. 109-130"},
              {57, service::factory_reset(), "7F 08 77", "S-9.2.3 l. 285, printed there"},
              {58, service::page_preset(), "7D 01 7C", "S-9.2.3 l. 92, printed there"}});
  BOOST_TEST(hex(service::verify_cv(1, 3)) == "74 00 03 77");             // S-9.2.3 l. 109-130
  BOOST_TEST(hex(service::verify_cv_bit(8, 7, true)) == "78 07 EF 90");   // S-9.2.3 l. 131-141
  BOOST_TEST(hex(service::verify_cv_bit(8, 7, false)) == "78 07 E7 98");  // S-9.2.3 l. 131-141
  BOOST_TEST(hex(service::write_cv(29, 38)) == "7C 1C 26 46");            // S-9.2.3 l. 109-130
  const auto parsed = service::parse(service::write_cv(300, 9));
  BOOST_REQUIRE(parsed.has_value());
  BOOST_TEST((std::get<dcc::CvWrite>(*parsed) == dcc::CvWrite{300, 9}));
}

BOOST_AUTO_TEST_CASE(consist_control) {
  check_rows({{75, dcc::consist_control(short_3, 10, true), "03 13 0A 1A", "S-9.2.1 §2.3.1.4"},
              {76, dcc::consist_control(short_3, 0, false), "03 12 00 11", "S-9.2.1 §2.3.1.4"}});
  BOOST_TEST(hex(dcc::consist_control(long_1234, 100, true)) == "C4 D2 13 64 61");  // S-9.2.1 §2.3.1.4
  BOOST_TEST(hex(dcc::broadcast_leave_consists()) == "00 12 00 12");                // RCN-212 (digest)
  // S-9.2.1 §2.3.1.1
  BOOST_TEST(hex(dcc::decoder_control(short_3, dcc::DecoderControl::hard_reset)) == "03 01 02");
  BOOST_TEST(hex(dcc::decoder_control(short_3, dcc::DecoderControl::use_long_address)) == "03 0B 08");
  BOOST_TEST(hex(dcc::decoder_control(short_3, dcc::DecoderControl::request_acknowledge)) == "03 0F 0C");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
