// Names and meanings of CVs against values that the standards print or that follow from their formulas.
#include "daemon/pages/cv_names.h"

#include <boost/test/unit_test.hpp>

using namespace lapwright;

namespace {

std::string meaning_of(int number, std::uint8_t value, const std::map<int, std::uint8_t>& cvs = {}) {
  return cv_meaning(number, value, cvs, 28);
}

bool tells(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_AUTO_TEST_SUITE(cv_names)

// S-9.2.2 (July 2012), table of CVs; RCN-225 (2025) for 20, 96 and what it gives to makers.
BOOST_AUTO_TEST_CASE(names_of_the_standard) {
  BOOST_TEST(cv_name(1) == "Primary Address");
  BOOST_TEST(cv_name(2) == "Vstart");
  BOOST_TEST(cv_name(3) == "Acceleration Rate");
  BOOST_TEST(cv_name(5) == "Vhigh");
  BOOST_TEST(cv_name(6) == "Vmid");
  BOOST_TEST(cv_name(19) == "Consist Address");
  BOOST_TEST(cv_name(24) == "Deceleration Adjustment");
  BOOST_TEST(cv_name(33) == "Output Location FL(f)");
  BOOST_TEST(cv_name(34) == "Output Location FL(r)");
  BOOST_TEST(cv_name(46) == "Output Location F12");
  BOOST_TEST(cv_name(65) == "Kick Start");
  BOOST_TEST(cv_name(66) == "Forward Trim");
  BOOST_TEST(cv_name(95) == "Reverse Trim");
  BOOST_TEST(cv_name(26) == "reserved");
  BOOST_TEST(cv_name(50) == "maker's own");
  BOOST_TEST(cv_name(112) == "maker's own");
  BOOST_TEST(cv_name(256) == "maker's own");
  BOOST_TEST(cv_name(257) == "Indexed CV");
  BOOST_TEST(cv_name(512) == "Indexed CV");
  BOOST_TEST(cv_name(0) == "no CV");
  BOOST_TEST(cv_name(1025) == "no CV");
}

// S-9.2.2 l. 277-278: 28 values in the order of the steps, so CV67 is step 1, CV80 step 14 and CV94 step 28.
BOOST_AUTO_TEST_CASE(table_entries_by_step) {
  BOOST_TEST(cv_name(67) == "Speed Table, step 1");
  BOOST_TEST(cv_name(80) == "Speed Table, step 14");
  BOOST_TEST(cv_name(94) == "Speed Table, step 28");
  BOOST_TEST(meaning_of(94, 255) == "100.0 % of full drive");
  BOOST_TEST(meaning_of(67, 0) == "0.0 % of full drive");
}

// S-9.2.2 l. 131-135 (1234, 9999, the limits of CV17); RCN-225 prints 195 and 232 for 1000.
BOOST_AUTO_TEST_CASE(long_addresses) {
  BOOST_TEST(long_address(196, 210).value() == 1234);
  BOOST_TEST(long_address(195, 232).value() == 1000);
  BOOST_TEST(long_address(231, 15).value() == 9999);
  BOOST_TEST(long_address(231, 255).value() == 10239);
  BOOST_TEST(!long_address(191, 0));
  BOOST_TEST(!long_address(232, 0));
  BOOST_TEST(!long_address(192, 0));  // RCN-225: no vehicle
  for (int address = 1; address <= 10239; ++address) {
    const LongAddressCvs both = long_address_cvs(address);
    if (long_address(both.cv17, both.cv18) != address) BOOST_ERROR(address << " does not come back");
  }
  BOOST_TEST(meaning_of(17, 196, {{17, 196}, {18, 210}}) == "long address 1234");
  BOOST_TEST(meaning_of(18, 210, {{17, 196}, {18, 210}}) == "long address 1234");
  BOOST_TEST(tells(meaning_of(17, 196, {{17, 196}}), "other half"));
}

// S-9.2.2 l. 57-64 prints 0.064 s for CV3 = 2 at 28 steps; the others follow from its formula.
BOOST_AUTO_TEST_CASE(momentum_in_seconds) {
  const auto close = boost::test_tools::tolerance(1e-9);
  BOOST_TEST(momentum_s_per_step(2, 28) == 0.064, close);
  BOOST_TEST(momentum_s_per_step(10, 28) == 0.32, close);
  BOOST_TEST(momentum_s_per_step(255, 28) == 8.16, close);
  BOOST_TEST(momentum_s_per_step(10, 126) == 0.0711111111, boost::test_tools::tolerance(1e-6));
  BOOST_TEST(meaning_of(3, 10) == "0.320 s a step, 9.0 s over all 28");
  BOOST_TEST(cv_meaning(4, 10, {}, 126) == "0.071 s a step, 9.0 s over all 126");
  BOOST_TEST(meaning_of(3, 0) == "no momentum");
}

// S-9.2.2 l. 155-161: bit 7 subtracts, and below 0 there is no momentum.
BOOST_AUTO_TEST_CASE(momentum_with_its_adjustment) {
  BOOST_TEST(effective_rate(10, 5) == 15);
  BOOST_TEST(effective_rate(10, 133) == 5);
  BOOST_TEST(effective_rate(3, 138) == 0);
  BOOST_TEST(effective_rate(200, 100) == 255);
  BOOST_TEST(meaning_of(3, 10, {{23, 133}}) == "0.160 s a step, 4.5 s over all 28 (with its adjustment: 5)");
  BOOST_TEST(meaning_of(4, 10, {{23, 133}}) == meaning_of(4, 10));  // 23 is not for braking; 24 is
  BOOST_TEST(meaning_of(4, 10, {{24, 133}}) == meaning_of(3, 10, {{23, 133}}));
  BOOST_TEST(meaning_of(23, 133) == "less 5");
  BOOST_TEST(meaning_of(24, 5) == "more 5");
}

// S-9.2.2 l. 137-140 (138: consist 10, reversed); RCN-225 (CV20 = 12 with CV19 = 162: consist 1234, reversed).
BOOST_AUTO_TEST_CASE(consists) {
  BOOST_TEST(meaning_of(19, 138) == "consist 10, reversed direction");
  BOOST_TEST(meaning_of(19, 10) == "consist 10, normal direction");
  BOOST_TEST(meaning_of(19, 0) == "in no consist");
  BOOST_TEST(meaning_of(19, 128) == "in no consist");
  BOOST_TEST(meaning_of(19, 162, {{20, 12}}) == "consist 1234, reversed direction");
  BOOST_TEST(meaning_of(19, 34, {{20, 12}}) == "consist 1234, normal direction");
  BOOST_TEST(consist_address(39, 102).address == 10239);
  BOOST_TEST(consist_address(40, 102).address == 0);  // above 10239: none
  BOOST_TEST(meaning_of(21, 0b1000'0101) == "F1, F3, F8 from the consist address");
  BOOST_TEST(meaning_of(22, 0b0010'0001) == "FL(f), F12 from the consist address");
}

// S-9.2.2 l. 214-233: 58 is long address, table, bidirectional, 28/128 steps, normal direction, digital only.
BOOST_AUTO_TEST_CASE(bits_of_the_configuration) {
  const std::vector<std::string> bits = configuration_bits(58);
  BOOST_REQUIRE(bits.size() == 4U);
  BOOST_TEST(bits[0] == "bit 1: 28 or 128 speed steps; FL has its own instruction");
  BOOST_TEST(bits[1] == "bit 3: bi-directional communication on");
  BOOST_TEST(bits[2] == "bit 4: speed table in use");
  BOOST_TEST(bits[3] == "bit 5: extended address (CV17/18) in use");
  BOOST_TEST(configuration_bits(5).at(0) == "bit 0: direction of travel reversed");
  BOOST_TEST(tells(configuration_bits(5).at(1), "analog"));
  BOOST_TEST(configuration_bits(0).empty());
  BOOST_TEST(configuration_bits(0xFF).size() == 1U);  // an accessory decoder: nothing else is as it seems
  BOOST_TEST(meaning_of(29, 18) ==
             "bit 1: 28 or 128 speed steps; FL has its own instruction; bit 4: speed table in use");
}

BOOST_AUTO_TEST_CASE(other_values) {
  BOOST_TEST(meaning_of(1, 3) == "short address 3");                  // S-9.2.2 l. 44-49
  BOOST_TEST(meaning_of(1, 0) == "no short address");                 // there
  BOOST_TEST(meaning_of(1, 128) == "no short address");               // there
  BOOST_TEST(meaning_of(5, 1) == "not used");                         // l. 66-70
  BOOST_TEST(meaning_of(6, 0) == "not used");                         // l. 72-76
  BOOST_TEST(meaning_of(9, 0) == "131 µs");                           // l. 87-93
  BOOST_TEST(meaning_of(9, 31) == "255 µs");                          // there
  BOOST_TEST(meaning_of(9, 32) == "262 µs");                          // there
  BOOST_TEST(meaning_of(9, 255) == "32640 µs");                       // there
  BOOST_TEST(meaning_of(10, 40) == "regulates up to speed step 40");  // l. 95-97
  BOOST_TEST(meaning_of(13, 6) == "F2, F3 on without DCC");           // bit 0 = F1 (table of CVs)
  BOOST_TEST(meaning_of(14, 0b0100'0100) == "F9 on without DCC");
  BOOST_TEST(meaning_of(11, 0) == "time-out off");            // S-9.2.4 l. 86-87
  BOOST_TEST(meaning_of(25, 2) == "preset table 2, linear");  // S-9.2.2 l. 171-177
  BOOST_TEST(meaning_of(25, 154) == "Vmid stands at step 26 of 28");
  BOOST_TEST(meaning_of(66, 128) == "drive × 1.000 in forward");  // l. 272-275
  BOOST_TEST(meaning_of(66, 64) == "drive × 0.500 in forward");
  BOOST_TEST(meaning_of(95, 255) == "drive × 1.992 in reverse");
  BOOST_TEST(meaning_of(66, 0) == "forward not trimmed");
  BOOST_TEST(meaning_of(28, 3) == "channel 1: address, channel 2: data and acknowledgement");  // RCN-217 §4.2.1
  BOOST_TEST(meaning_of(15, 7, {{15, 7}, {16, 7}}) == "open: CV15 and CV16 are equal");        // RCN-225
  BOOST_TEST(tells(meaning_of(16, 8, {{15, 7}, {16, 8}}), "locked"));
}

// S-9.2.2 l. 239-250: CV31 and CV32 choose the page; 16 … 255 in CV31 are the makers'.
BOOST_AUTO_TEST_CASE(indexed_cvs_are_told_as_such) {
  BOOST_TEST(tells(meaning_of(300, 5), "not known"));
  BOOST_TEST(meaning_of(300, 5, {{31, 0}, {32, 255}}) == "on page 255 (0, 255)");
  BOOST_TEST(meaning_of(300, 5, {{31, 16}, {32, 0}}) == "on page 4096 (16, 0), maker's own");
  BOOST_TEST(meaning_of(120, 5).empty());
}

BOOST_AUTO_TEST_SUITE_END()
