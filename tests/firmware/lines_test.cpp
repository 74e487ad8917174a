// Lines that can't be read, and the byte that is no part of any. Source of what is expected: PROTOCOL.md.
#include <boost/test/unit_test.hpp>
#include <random>

#include "tests/firmware/host.h"

namespace lapwright::firmware {
namespace {

constexpr double byte_time_us = 1e6 * 10 / 115200;

/// How many more lines the board has dropped after receiving this; and it still understands the next one.
int dropped_by(VirtualBoard& board, const std::string& bytes) {
  const int before = board.next_state().bad;
  board.send(bytes);
  board.run_until([&] { return !board.is_sending(); }, 1'000'000);
  board.run_us(5'000);
  BOOST_TEST(board.ask('L') == "ok");
  return board.next_state().bad - before;
}

BOOST_AUTO_TEST_SUITE(host_lines)

BOOST_AUTO_TEST_CASE(unreadable_lines_are_dropped_and_counted) {
  VirtualBoard board(release_elf);
  boot(board);
  const std::string good = with_crc("L 00");
  BOOST_TEST(dropped_by(board, good) == 0);
  BOOST_TEST(dropped_by(board, "L 00*0000\n") == 1);
  BOOST_TEST(dropped_by(board, "\n") == 1);
  BOOST_TEST(dropped_by(board, "nonsense\n") == 1);
  BOOST_TEST(dropped_by(board, "*" + with_crc("").substr(1)) == 1);
  BOOST_TEST(dropped_by(board, with_crc("l 00")) == 1);  // small letters are the board's
  BOOST_TEST(dropped_by(board, with_crc("L 0g")) == 1);  // no hex digit
  BOOST_TEST(dropped_by(board, with_crc("L 0a")) == 1);  // hex digits are capitals
  BOOST_TEST(dropped_by(board, with_crc("L-00")) == 1);
  BOOST_TEST(dropped_by(board, with_crc("L00")) == 1);    // no space
  BOOST_TEST(dropped_by(board, with_crc("L 000")) == 1);  // sequence too long
  BOOST_TEST(dropped_by(board, with_crc("L")) == 1);      // no sequence
  BOOST_TEST(with_crc("L 01") == "L 01*004F\n");
  BOOST_TEST(dropped_by(board, "L 01*004f\n") == 1);             // a CRC in small letters
  BOOST_TEST(dropped_by(board, good.substr(0, 5) + "\n") == 1);  // cut short
  BOOST_TEST(dropped_by(board, good.substr(0, 5) + good) == 1);  // interleaved
  BOOST_TEST(dropped_by(board, std::string(80, 'x') + "\n") == 1);
  BOOST_TEST(dropped_by(board, std::string(500, 'x') + "\n") == 1);  // counted once
  BOOST_TEST(board.count('a') == 17U + 1U);
}

BOOST_AUTO_TEST_CASE(a_byte_without_its_stop_bit_spoils_the_line) {
  VirtualBoard board(release_elf);
  boot(board);
  for (std::size_t place = 0; place < 9; ++place) {
    const int bad = board.next_state().bad;
    board.send(with_crc("L 20"), place);
    board.run_us(5'000);
    BOOST_TEST(board.next_state().bad == bad + 1);
  }
  BOOST_TEST(board.count('a') == 0U);
  BOOST_TEST(board.ask('L') == "ok");
}

BOOST_AUTO_TEST_CASE(the_longest_line_has_80_bytes) {
  VirtualBoard board(release_elf);
  boot(board);
  const std::string longest = with_crc("P 00 " + std::string(69, '1'));
  BOOST_TEST(longest.size() == 80U);
  BOOST_TEST(dropped_by(board, longest) == 0);
  BOOST_TEST(dropped_by(board, with_crc("P 00 " + std::string(70, '1'))) == 1);
}

BOOST_AUTO_TEST_CASE(a_carriage_return_before_the_line_feed_is_skipped) {
  VirtualBoard board(release_elf);
  boot(board);
  std::string line = with_crc("L 33");
  line.insert(line.size() - 1, "\r");
  board.send(line);
  board.run_us(10'000);
  BOOST_TEST(board.last('a')->fields.at(0) == "33");
  BOOST_TEST(board.last('a')->fields.at(1) == "ok");
}

BOOST_AUTO_TEST_CASE(every_single_bit_error_is_noticed) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  const std::string good = with_crc("P 01 1");
  int tried = 0;
  for (std::size_t place = 0; place + 1 < good.size(); ++place) {
    for (int bit = 0; bit < 8; ++bit) {
      std::string flawed = good;
      flawed[place] = static_cast<char>(flawed[place] ^ (1 << bit));
      if (flawed[place] == '\x18') continue;
      board.send_line('L');
      board.send(flawed);
      board.run_us(6'000);
      ++tried;
    }
  }
  BOOST_TEST(tried > 80);
  BOOST_TEST(board.relay_changes.empty());
  BOOST_TEST(board.ask('P', "1") == "ok");
}

BOOST_AUTO_TEST_CASE(lines_that_do_not_wait_for_answers_are_dropped_not_mixed) {
  VirtualBoard board(release_elf);
  boot(board);
  for (int sent = 0; sent < 200; ++sent) board.send_line('L');
  for (int sent = 0; sent < 200; ++sent) board.send_line('I');
  const std::size_t states = board.count('s');
  const std::uint64_t begun = board.cycle();
  board.run_until([&] { return !board.is_sending(); }, 1'000'000);
  BOOST_TEST(static_cast<double>(board.count('s') - states) >= ms_between(begun, board.cycle()) / 100 - 1);
  board.run_us(100'000);
  const int bad = board.next_state().bad;
  BOOST_TEST(bad > 0);
  BOOST_TEST(board.count('a') + static_cast<unsigned>(bad) == 400U);
  BOOST_TEST(board.unreadable == 0);
  BOOST_TEST(board.gaps == 0);
}

BOOST_AUTO_TEST_CASE(noise_neither_stops_the_board_nor_closes_the_relay) {
  VirtualBoard board(release_elf);
  boot(board);
  std::mt19937 random(7);
  for (int burst = 0; burst < 200; ++burst) {
    std::string bytes = with_crc("P 11 1");
    for (int byte = 0; byte < 100; ++byte) bytes.insert(random() % bytes.size(), 1, static_cast<char>(random() % 256));
    board.send(bytes);
    board.run_until([&] { return !board.is_sending(); }, 1'000'000);
  }
  board.send("\n");
  board.run_us(20'000);
  BOOST_TEST(board.relay_changes.empty());
  BOOST_TEST(board.boots == 1);
  BOOST_TEST(board.next_state().bad > 150);
  BOOST_TEST(board.ask('C') == "ok");
  BOOST_TEST(energise(board));
}

// One byte time after the byte was received; it stands at every place of a line in turn.
BOOST_AUTO_TEST_CASE(byte_18_opens_the_relay_wherever_it_stands) {
  VirtualBoard board(release_elf);
  boot(board);
  const std::string line = with_crc("L 44");
  for (std::size_t place = 0; place < line.size(); ++place) {
    BOOST_TEST(energise(board));
    const int bad = board.next_state().bad;
    board.relay_changes.clear();
    const std::uint64_t received = board.cycle() + (place + 1) * byte_cycles;
    board.send(line.substr(0, place) + "\x18" + line.substr(place));
    board.run_us(8'000);
    BOOST_TEST_REQUIRE(board.relay_changes.size() == 1U);
    const double late_us = 1e3 * ms_between(received, board.relay_changes[0].cycle);
    BOOST_TEST((late_us > 0 && late_us < byte_time_us), late_us << " us after the byte");
    const State state = board.next_state();
    BOOST_TEST(state.fault == 'h');
    BOOST_TEST(state.bad - bad == (place == 0 ? 0 : 1));  // the interrupted line; before a line it interrupts nothing
    BOOST_TEST((board.last('a')->fields[0] == "44") == (place == 0));
    BOOST_TEST(board.ask('P', "1") == "fault");
    BOOST_TEST(board.ask('C') == "ok");
  }
}

BOOST_AUTO_TEST_CASE(no_older_line_undoes_byte_18) {
  VirtualBoard board(release_elf);
  boot(board);
  int refused = 0;
  for (std::uint64_t phase = 0; phase < 30; ++phase) {
    BOOST_TEST(energise(board));
    board.send_line('I');  // its many lines keep the answer to the next one waiting, and the one after that
    board.run_us(5'000 + phase * 100);
    board.send(with_crc("L 50") + with_crc("C 51") + "\x18");
    board.run_us(40'000);
    if (board.last('a')->fields[1] == "fault") ++refused;
    BOOST_TEST(board.next_state().fault == 'h');
    BOOST_TEST(!board.relay_closed());
    BOOST_TEST(board.ask('C') == "ok");
  }
  BOOST_TEST(refused > 3);
  BOOST_TEST(refused < 30);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
