// Turnout and signal packets against the printed table: check values 78-84 (NMRA S-9.2.1 §2.4).
#include "drivers/dcc/accessory.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

dcc::Packet user(int number, bool activate, bool straight) {
  return dcc::accessory(dcc::BasicAccessory{dcc::accessory_address(number), activate, straight});
}

BOOST_AUTO_TEST_SUITE(dcc_accessory)

BOOST_AUTO_TEST_CASE(basic) {
  const char* source = "S-9.2.1 Table 2.2";
  check_rows({{78, user(1, true, true), "81 F9 78", source},
              {79, user(1, true, false), "81 F8 79", source},
              {80, user(5, true, true), "82 F9 7B", source},
              {81, user(252, true, true), "BF FF 40", source},
              {82, user(253, true, true), "80 E9 69", source},
              {83, user(2045, true, true), "80 F9 79", source}});
  // More of S-9.2.1 §2.4.1.
  BOOST_TEST(hex(user(1, false, true)) == "81 F1 70");
  BOOST_TEST(hex(user(10, true, false)) == "83 FA 79");
  BOOST_TEST(hex(user(1000, true, false)) == "BA CE 74");
  BOOST_TEST(hex(user(2044, true, true)) == "BF 8F 30");
  BOOST_TEST(hex(user(2048, true, false)) == "80 FE 7E");
  BOOST_TEST(dcc::accessory_address(1) == 4);
  BOOST_TEST(dcc::accessory_address(2045) == 0);
}

BOOST_AUTO_TEST_CASE(extended) {
  check_rows(
      {{84, dcc::accessory(dcc::ExtendedAccessory{dcc::accessory_address(1), 5}), "81 71 05 F5", "S-9.2.1 §2.4.2"}});
  BOOST_TEST(hex(dcc::accessory(dcc::ExtendedAccessory{4, 0})) == "81 71 00 F0");  // S-9.2.1 §2.4.2
}

BOOST_AUTO_TEST_CASE(round_trip) {
  for (int number = 1; number <= 2048; ++number) {
    const int address = dcc::accessory_address(number);
    BOOST_TEST_REQUIRE(dcc::accessory_user_number(address) == number);
    const dcc::BasicAccessory basic{address, number % 2 == 0, number % 3 == 0};
    BOOST_TEST_REQUIRE((dcc::decode_basic_accessory(dcc::accessory(basic)) == basic));
    const dcc::ExtendedAccessory extended{address, static_cast<std::uint8_t>(number % 256)};
    BOOST_TEST_REQUIRE((dcc::decode_extended_accessory(dcc::accessory(extended)) == extended));
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
