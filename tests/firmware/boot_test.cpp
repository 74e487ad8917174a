// Hello, settings and epoch. Source of what is expected: drivers/trackside/PROTOCOL.md.
#include <boost/test/unit_test.hpp>

#include "tests/firmware/host.h"

namespace lapwright::firmware {
namespace {

int epoch_of(const VirtualBoard& board) { return board.last('h') != nullptr ? board.last('h')->number(4) : -1; }

std::string cause_of(const VirtualBoard& board) {
  return board.last('h') != nullptr ? board.last('h')->fields.at(5) : "none";
}

/// The epoch that a board tells which boots with this EEPROM.
int epoch_after(const std::vector<std::uint8_t>& eeprom) {
  VirtualBoard board(release_elf);
  board.set_eeprom(eeprom);
  boot(board);
  return epoch_of(board);
}

BOOST_AUTO_TEST_SUITE(boot_lines)

// Source of the check value: the CRC catalogue's entry CRC-16/IBM-3740.
BOOST_AUTO_TEST_CASE(the_tests_count_the_same_crc) {
  BOOST_TEST(crc_of("123456789") == 0x29B1);
  BOOST_TEST(with_crc("L 07") == "L 07*6089\n");  // the protocol's own instance
}

BOOST_AUTO_TEST_CASE(hello_comes_first_and_settings_follow_in_order) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST_REQUIRE(board.lines.size() >= 10U);
  const BoardLine& hello = board.lines[0];
  BOOST_TEST(hello.kind == 'h');
  BOOST_TEST(hello.fields.at(0) == "1");
  BOOST_TEST(hello.fields.at(1) == "1.0");
  BOOST_TEST(hello.fields.at(2) == "QT-0001");
  BOOST_TEST(hello.fields.at(5) == "p");
  const std::vector<std::pair<std::string, std::string>> expected = {
      {"gates", "8"},      {"blocked_high", "FF"},   {"trip_mA", "1500"}, {"trip_us", "700"},
      {"lease_ms", "400"}, {"energised_s", "14400"}, {"zero_mV", "2500"}, {"uV_per_mA", "185"}};
  std::string text;
  for (std::size_t place = 0; place < expected.size(); ++place) {
    const BoardLine& setting = board.lines[place + 1];
    BOOST_TEST(setting.kind == 'v');
    BOOST_TEST(setting.fields.at(0) == expected[place].first);
    BOOST_TEST(setting.fields.at(1) == expected[place].second);
    text += expected[place].first + "=" + expected[place].second + "\n";
  }
  BOOST_TEST(hello.hex(3) == crc_of(text));
  BOOST_TEST(board.lines[9].kind == 's');
  BOOST_TEST(board.unreadable == 0);
  BOOST_TEST(board.gaps == 0);
}

BOOST_AUTO_TEST_CASE(who_are_you_is_answered_before_the_hello) {
  VirtualBoard board(release_elf);
  boot(board);
  board.lines.clear();
  BOOST_TEST(board.ask('I') == "ok");
  board.run_us(60'000);
  std::string kinds;
  for (const BoardLine& line : board.lines) {
    if (line.kind != 's') kinds += line.kind;
  }
  BOOST_TEST(kinds == "ahvvvvvvvv");
  BOOST_TEST(cause_of(board) == "p");
}

BOOST_AUTO_TEST_CASE(epoch_counts_up_over_resets_and_power_cycles) {
  VirtualBoard board(release_elf);
  boot(board);
  const int first = epoch_of(board);
  BOOST_TEST(first == 1);
  for (int boots = 1; boots <= 40; ++boots) {  // more than twice round the slots
    board.reset(VirtualBoard::Boot::reset_pin);
    boot(board);
    BOOST_TEST(epoch_of(board) == first + boots);
    BOOST_TEST(cause_of(board) == "e");
  }
  BOOST_TEST(epoch_after(board.eeprom()) == first + 41);
  BOOST_TEST(board.gaps == 0);
}

BOOST_AUTO_TEST_CASE(cause_of_the_boot) {
  VirtualBoard board(release_elf);
  boot(board);
  board.reset(VirtualBoard::Boot::brown_out);
  boot(board);
  BOOST_TEST(cause_of(board) == "b");
  board.reset(VirtualBoard::Boot{8 | 2});  // watchdog, then the reset pin before the program began
  boot(board);
  BOOST_TEST(cause_of(board) == "w");
  board.reset(VirtualBoard::Boot{});  // no flag at all: the program ran to its beginning
  boot(board);
  BOOST_TEST(cause_of(board) == "w");
  BOOST_TEST(board.next_state().fault == 'w');
}

// A slot: epoch, then its CRC, little-endian. Sixteen of them.
BOOST_AUTO_TEST_CASE(epoch_survives_a_write_cut_short_at_any_byte) {
  VirtualBoard board(release_elf);
  boot(board);
  const auto before = board.eeprom();
  board.reset(VirtualBoard::Boot::power);
  boot(board);
  const auto after = board.eeprom();
  int differing = 0;
  for (std::size_t cut = 0; cut < 64; ++cut) {
    auto torn = before;
    std::copy_n(after.begin(), cut, torn.begin());
    if (torn[cut] != after[cut]) {
      ++differing;
      torn[cut] = 0xFF;  // erased, not yet written
    }
    const int epoch = epoch_after(torn);
    BOOST_TEST((epoch == 2 || epoch == 3), "cut at byte " << cut << " gives epoch " << epoch);
  }
  BOOST_TEST(differing >= 3);
}

BOOST_AUTO_TEST_CASE(epoch_goes_round_after_65535) {
  std::vector<std::uint8_t> eeprom(1024, 0xFF);
  const std::string newest = "\xFF\xFF";
  const std::uint16_t crc = crc_of(newest);
  eeprom[12] = eeprom[13] = 0xFF;
  eeprom[14] = static_cast<std::uint8_t>(crc & 0xFF);
  eeprom[15] = static_cast<std::uint8_t>(crc >> 8);
  VirtualBoard board(release_elf);
  board.set_eeprom(eeprom);
  boot(board);
  BOOST_TEST(epoch_of(board) == 0);
  board.reset(VirtualBoard::Boot::power);
  boot(board);
  BOOST_TEST(epoch_of(board) == 1);
}

BOOST_AUTO_TEST_CASE(state_every_100_ms) {
  VirtualBoard board(release_elf);
  board.run_us(3'050'000);
  BOOST_TEST(board.count('s') == 30U);
  double longest_ms = 0;
  const BoardLine* before = nullptr;
  for (const BoardLine& line : board.lines) {
    if (line.kind != 's') continue;
    if (before != nullptr) longest_ms = std::max(longest_ms, ms_between(before->begun_cycle, line.begun_cycle));
    before = &line;
  }
  BOOST_TEST(longest_ms < 103);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
