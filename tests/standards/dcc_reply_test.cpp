// Replies on the bidirectional channel: check values 85-95 (RCN-217, NMRA S-9.3.2) and sanity rule 2.
#include <array>
#include <bit>

#include "drivers/dcc/reply_code.h"
#include "tests/standards/dcc_check.h"

namespace lapwright {
namespace {

using Symbol = dcc::ReplySymbol::Kind;

BOOST_AUTO_TEST_SUITE(dcc_reply)

BOOST_AUTO_TEST_CASE(cv_values) {  // check values 85-89, RCN-217 Tables 2, 3; the others from RCN-217 §5.1
  struct Row {
    std::uint8_t value;
    const char* wire;
  };
  constexpr std::array<Row, 10> rows{{{0, "AC AC F0 F0 F0 F0"},
                                      {63, "AC 33 F0 F0 F0 F0"},
                                      {64, "AA AC F0 F0 F0 F0"},
                                      {128, "A9 AC F0 F0 F0 F0"},
                                      {255, "A5 33 F0 F0 F0 F0"},
                                      {3, "AC A5 F0 F0 F0 F0"},
                                      {6, "AC 9C F0 F0 F0 F0"},
                                      {34, "AC 4D F0 F0 F0 F0"},
                                      {145, "A9 B4 F0 F0 F0 F0"},
                                      {200, "A5 99 F0 F0 F0 F0"}}};
  for (const Row& row : rows) BOOST_TEST(hex(dcc::encode_cv_reply(row.value)) == row.wire);
}

BOOST_AUTO_TEST_CASE(address_broadcasts) {  // check values 90 and 91, RCN-217 Table 11
  BOOST_TEST(hex(dcc::encode_address(short_3).first) == "A3 AC");
  BOOST_TEST(hex(dcc::encode_address(short_3).second) == "99 A5");
  BOOST_TEST(hex(dcc::encode_address(long_1234).first) == "9C A3");
  BOOST_TEST(hex(dcc::encode_address(long_1234).second) == "96 B8");
}

BOOST_AUTO_TEST_CASE(xpom_reply) {  // check value 92, RCN-217 §5.6
  BOOST_TEST(hex(dcc::encode_xpom_reply(0, {8, 16, 24, 32})) == "56 99 A3 AA 56 56");
  BOOST_TEST(hex(dcc::encode_xpom_reply(1, {8, 16, 24, 32})) == "47 99 A3 AA 56 56");
}

BOOST_AUTO_TEST_CASE(code_space) {  // check values 93 and 94, RCN-217 §2.5
  int legal = 0;
  int data = 0;
  for (int wire = 0; wire < 256; ++wire) {
    const dcc::ReplySymbol symbol = dcc::decode_symbol(static_cast<std::uint8_t>(wire));
    legal += symbol.kind != Symbol::damaged ? 1 : 0;
    data += symbol.kind == Symbol::data ? 1 : 0;
  }
  BOOST_TEST(legal == 70);
  BOOST_TEST(data == 64);
  BOOST_TEST(legal - data == 6);
  BOOST_TEST((dcc::decode_symbol(0xA8).kind == Symbol::damaged));
}

BOOST_AUTO_TEST_CASE(special_symbols) {  // check value 95, RCN-217 Table 2; 2012 differed for 0F (S-9.3.2:2012 Table 2)
  BOOST_TEST((dcc::decode_symbol(0x0F).kind == Symbol::acknowledged));
  BOOST_TEST((dcc::decode_symbol(0xF0).kind == Symbol::acknowledged));
  BOOST_TEST((dcc::decode_symbol(0x3C).kind == Symbol::not_acknowledged));
  BOOST_TEST((dcc::decode_symbol(0xE1).kind == Symbol::busy));
  BOOST_TEST((dcc::decode_symbol(0xC3).kind == Symbol::reserved));
  BOOST_TEST((dcc::decode_symbol(0x87).kind == Symbol::reserved));
}

BOOST_AUTO_TEST_CASE(weight_of_every_byte_is_four) {  // sanity rule 2; RCN-217 §2.5
  for (int value = 0; value < 256; ++value) {
    const auto byte = static_cast<std::uint8_t>(value);
    const auto wire = dcc::encode_cv_reply(byte);
    for (const std::uint8_t each : wire) BOOST_TEST_REQUIRE(std::popcount(each) == 4);
    BOOST_TEST_REQUIRE((dcc::decode_cv_reply(wire) == byte));
  }
}

BOOST_AUTO_TEST_CASE(only_a_value_is_a_value) {  // RCN-217 §5.1: an ACK proves nothing
  const std::array<std::uint8_t, 6> only_ack{0xF0, 0xF0, 0xF0, 0xF0, 0xF0, 0xF0};
  BOOST_TEST(!dcc::decode_cv_reply(only_ack).has_value());
  const std::array<std::uint8_t, 2> damaged{0xA9, 0xA8};
  BOOST_TEST(!dcc::decode_cv_reply(damaged).has_value());
  BOOST_TEST(!dcc::decode_cv_reply(dcc::encode_datagram(7, 128)).has_value());  // another datagram
  BOOST_TEST(!dcc::decode_cv_reply({}).has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
