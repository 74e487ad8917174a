// Lines of the trackside board's protocol: check sum, framing in the face of any bytes, and what lines mean.
#include <array>
#include <boost/test/unit_test.hpp>
#include <cstdio>
#include <cstdlib>
#include <random>

#include "drivers/trackside/crc16.h"
#include "drivers/trackside/line.h"
#include "drivers/trackside/message.h"

using namespace lapwright::trackside;

namespace {

std::vector<Line> lines_of(LineReader& reader, std::string_view bytes) {
  reader.feed(bytes);
  std::vector<Line> lines;
  while (auto line = reader.next()) lines.push_back(*line);
  return lines;
}

std::vector<Line> lines_of(std::string_view bytes) {
  LineReader reader;
  return lines_of(reader, bytes);
}

std::string sum_of(std::string_view body) {
  std::array<char, 8> digits{};
  std::snprintf(digits.data(), digits.size(), "%04X", static_cast<unsigned>(crc16(body)));
  return digits.data();
}

std::optional<Message> message(char kind, std::string_view fields) {
  const std::vector<Line> lines = lines_of(written(kind, 7, fields));
  BOOST_REQUIRE(lines.size() == 1);
  return understood(lines.front());
}

}  // namespace

BOOST_AUTO_TEST_SUITE(trackside_line)

// CRC-16/IBM-3740 (also known as CCITT-FALSE), check value as in the catalogue of parametrised CRC algorithms (from
// memory).
BOOST_AUTO_TEST_CASE(check_sum) {
  static_assert(crc16("123456789") == 0x29B1);
  static_assert(crc16("") == 0xFFFF);
  BOOST_TEST(written('L', 7) == "L 07*6089\n");  // the example of PROTOCOL.md
}

// What is taken for good is what was sent: 1 % of the lines have one to three bits turned round, which the check sum
// finds without fail: its Hamming distance is 4 at this length (Koopman's tables of CRC polynomials, from memory). Ten
// million of them, by hand: LAPWRIGHT_LINES=10000000 build/tests/unit_tests --run_test=trackside_line
BOOST_AUTO_TEST_CASE(no_line_with_turned_bits_is_taken_for_good) {
  const char* const wished = std::getenv("LAPWRIGHT_LINES");
  const long lines = wished != nullptr ? std::atol(wished) : 200'000;
  std::mt19937_64 luck(77);
  const auto drawn = [&luck](std::uint64_t below) { return static_cast<std::size_t>(luck() % below); };
  LineReader reader;
  long wrong = 0, hurt = 0, taken = 0;
  for (long number = 0; number < lines; ++number) {
    std::array<char, 32> fields{};
    std::snprintf(fields.data(), fields.size(), "%zu %zu %08zX %04zX", 1 + drawn(8), drawn(2), drawn(1ULL << 32U),
                  drawn(65536));
    const std::string sent = written('e', static_cast<std::uint8_t>(number), fields.data());
    std::string heard = sent;
    if (drawn(100) == 0) {
      for (std::size_t left = 1 + drawn(3); left > 0; --left) {
        char& letter = heard[drawn(heard.size() - 1)];
        letter = static_cast<char>(static_cast<unsigned char>(letter) ^ (1U << drawn(8)));
      }
      hurt += heard == sent ? 0 : 1;
    }
    reader.feed(heard);
    while (const auto line = reader.next()) {
      ++taken;
      std::string text;
      for (const std::string& field : line->fields) text += (text.empty() ? "" : " ") + field;
      if (written(line->kind, line->sequence, text) != sent) ++wrong;
    }
  }
  BOOST_TEST(wrong == 0);
  BOOST_TEST(taken == lines - hurt);
  BOOST_TEST(hurt > lines / 200);
}

BOOST_AUTO_TEST_CASE(a_line_there_and_back) {
  const std::vector<Line> lines = lines_of(written('e', 0xA5, "2 1 00A1B2C3 0000"));
  BOOST_REQUIRE(lines.size() == 1);
  BOOST_TEST(lines[0].kind == 'e');
  BOOST_TEST(lines[0].sequence == 0xA5);
  BOOST_TEST(lines[0].fields == (std::vector<std::string>{"2", "1", "00A1B2C3", "0000"}),
             boost::test_tools::per_element());
}

BOOST_AUTO_TEST_CASE(byte_by_byte_with_carriage_returns) {
  LineReader reader;
  std::string bytes = written('L', 1);
  bytes.insert(bytes.size() - 1, "\r");
  std::size_t found = 0;
  for (const char byte : bytes) found += lines_of(reader, std::string_view(&byte, 1)).size();
  BOOST_TEST(found == 1);
  BOOST_TEST(reader.counts().bad == 0);
}

BOOST_AUTO_TEST_CASE(damaged_lines_are_counted_and_the_next_is_read) {
  const std::string good = written('L', 1);
  const std::vector<std::string> damaged = {
      "L 01*0000\n",                                  // wrong check sum
      good.substr(0, good.size() - 3) + "\n",         // cut short
      good.substr(0, 3) + good,                       // two lines run into each other
      std::string(100, 'x') + "\n",                   // too long
      std::string(1000000, 'y') + "\n",               // far too long
      std::string("\0\xFF\x80*", 4) + "\n",           // no text at all
      "l 01*" + written('l', 1).substr(5, 3) + "\n",  // three digits
      written('a', 1, "x  y"),                        // an empty field
      written('a', 1, "x "),                          // also at the end
      written('a', 1, " "),                           //
      written('a', 1, "x*y"),                         // the check sum's mark within
      written('a', 1, "\xC3\xA9"),                    // no ASCII
      written('a', 1, "x\x01"),                       //
      "a 01 *" + sum_of("a 01 ") + "\n",              // a space and no field
  };
  for (const std::string& bytes : damaged) {
    LineReader reader;
    const std::vector<Line> lines = lines_of(reader, bytes + good);
    BOOST_TEST_CONTEXT(bytes.substr(0, 40)) {
      BOOST_TEST(lines.size() == 1);
      BOOST_TEST(reader.counts().bad == 1);
    }
  }
}

BOOST_AUTO_TEST_CASE(the_longest_line_and_one_more) {
  const std::string fields(longest_line - 1 - 5 - 5, 'z');  // LF, "*" with digits, "x 00 "
  BOOST_TEST(written('x', 0, fields).size() == longest_line);
  BOOST_TEST(lines_of(written('x', 0, fields)).size() == 1);
  BOOST_TEST(lines_of(written('x', 0, fields + 'z')).empty());
}

BOOST_AUTO_TEST_CASE(gaps_in_the_sequence_are_lost_lines) {
  LineReader reader;
  lines_of(reader, written('s', 0xFE) + written('s', 0xFF) + written('s', 0x00));
  BOOST_TEST(reader.counts().lost == 0);
  lines_of(reader, written('s', 0x03));
  BOOST_TEST(reader.counts().lost == 2);
  reader.begin_anew();
  lines_of(reader, written('s', 0x70));
  BOOST_TEST(reader.counts().lost == 2);
}

// A 16-bit check sum lets one damaged line of 65536 pass when all its bits are at random; with single flipped bits
// none.
BOOST_AUTO_TEST_CASE(no_single_flipped_bit_passes) {
  const std::string good = written('e', 0x5A, "3 0 7FFFFFFF 0001");
  for (std::size_t bit = 0; bit < 8 * (good.size() - 1); ++bit) {
    std::string bytes = good;
    bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
    BOOST_TEST_CONTEXT("bit " << bit) { BOOST_TEST(lines_of(bytes + "\n").empty()); }
  }
}

BOOST_AUTO_TEST_CASE(random_bytes_never_break_it) {
  std::mt19937 random(20261126);
  LineReader reader;
  std::size_t found = 0;
  for (int round = 0; round < 2000; ++round) {
    std::string bytes(random() % 200, '?');
    for (char& byte : bytes) byte = static_cast<char>(random() % 3 == 0 ? '\n' : random());
    found += lines_of(reader, bytes).size();
  }
  BOOST_TEST(found == 0);
  BOOST_TEST(lines_of(reader, "\n" + written('L', 1)).size() == 1);
}

BOOST_AUTO_TEST_CASE(what_lines_mean) {
  const auto hello = std::get<Hello>(message('h', "1 1.0 QT-0001 29B1 17 w").value());
  BOOST_TEST(hello.serial == "QT-0001");
  BOOST_TEST(hello.settings == 0x29B1);
  BOOST_TEST(hello.epoch == 17);
  BOOST_TEST(hello.cause == 'w');
  const auto edge = std::get<Edge>(message('e', "8 1 FFFFFFFE 0102").value());
  BOOST_TEST(edge.gate == 8);
  BOOST_TEST(edge.blocked);
  BOOST_TEST(edge.stamp_us == 0xFFFFFFFE);
  BOOST_TEST(edge.lost == 0x102);
  const auto state = std::get<State>(message('s', "0000000A -3 120 1 c 81 0000 399 12 5").value());
  BOOST_TEST(state.current_mA == -3);
  BOOST_TEST(state.peak_mA == 120);
  BOOST_TEST(state.relay_closed);
  BOOST_TEST(state.fault == 'c');
  BOOST_TEST(state.blocked_gates == 0x81);
  BOOST_TEST(state.lease_ms == 399);
  BOOST_TEST(state.energised_s == 12);
  BOOST_TEST(state.bad_lines == 5);
  const auto answer = std::get<Answer>(message('a', "FF lease 00000001").value());
  BOOST_TEST(answer.of == 0xFF);
  BOOST_TEST(answer.result == "lease");
  BOOST_TEST(std::get<Hello>(message('h', "2 9.9 QT-0001 and quite other things").value()).version == 2);
}

BOOST_AUTO_TEST_CASE(lines_that_mean_nothing) {
  for (const auto& [kind, fields] : std::vector<std::pair<char, const char*>>{
           {'e', "0 1 00000000 0000"},
           {'e', "9 1 00000000 0000"},
           {'e', "1 2 00000000 0000"},
           {'e', "1 1 0000000 0000"},
           {'e', "1 1 0000000g 0000"},
           {'e', "1 1 00000000"},
           {'e', "1 1 00000000 0000 0"},
           {'s', "00000000 0 0 1 z 00 0000 0 0 0"},
           {'s', "00000000 99999 0 1 - 00 0000 0 0 0"},
           {'s', "00000000 1e3 0 1 - 00 0000 0 0 0"},
           {'h', "1 1.0 QT-0001 29B1 65536 p"},
           {'h', "1 1.0 QT-0001 29B1 1 q"},
           {'a', "1 ok 00000000"},
           {'z', "1"},
       }) {
    BOOST_TEST_CONTEXT(kind << ' ' << fields) { BOOST_TEST(!message(kind, fields).has_value()); }
  }
}

BOOST_AUTO_TEST_SUITE_END()
