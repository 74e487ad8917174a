// Frames, identities, aliases and speeds of LCC against the values that the OpenLCB documents give or that follow from
// them.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>

#include "drivers/lcc/alias.h"
#include "drivers/lcc/gridconnect.h"
#include "drivers/lcc/identity.h"
#include "drivers/lcc/speed.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

std::vector<Frame> frames_of(std::string_view bytes) {
  FrameReader reader;
  reader.feed(bytes);
  std::vector<Frame> frames;
  while (auto frame = reader.next()) frames.push_back(*frame);
  return frames;
}

NodeId node(const char* text) { return NodeId::parse(text).value(); }

/// The rule by which a station turns a speed into a step: Train Control Technical Note 4.1, one mph for each step of
/// 126.
int step_of(std::uint16_t bits, int steps, bool rounds) {
  const HalfSpeed speed = from_half(bits);
  if (speed.speed_m_s == 0) return 0;
  const double exact = speed.speed_m_s / 0.44704 * steps / 126;
  return std::clamp(static_cast<int>(std::floor(exact + (rounds ? 0.5 : 0.0))), 1, steps);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(lcc_codec)

// CAN Frame Transfer Technical Note 2.6.2.1: the check-ID frames of node 12.34.56.78.9A.BC under alias FED.
BOOST_AUTO_TEST_CASE(frames_are_written_and_read) {
  for (const char* text : {":X17123FEDN;\n", ":X16456FEDN;\n", ":X15789FEDN;\n", ":X14ABCFEDN;\n",
                           ":X19544E7AN090099FFFFFFF3EB;\n", ":X1AE7ADD8N204000000004F801;\n"}) {
    const std::vector<Frame> frames = frames_of(text);
    BOOST_TEST_REQUIRE(frames.size() == 1u);
    BOOST_TEST(written(frames[0]) == text);
  }
  const Frame frame = frames_of(":X195EBDD8N0E7A00C478;")[0];
  BOOST_TEST(frame.header == 0x195EBDD8u);
  BOOST_TEST(frame.source() == 0xDD8);
  BOOST_TEST(frame.size == 5);
  BOOST_TEST(frame.bytes[3] == 0xC4);
}

// What streams of other programs look like (readers of two open protocol libraries, as noted in reference/lcc.md 1).
BOOST_AUTO_TEST_CASE(what_a_reader_has_to_put_up_with) {
  BOOST_TEST(frames_of(":x195ebdd8n0e7a00;")[0].header == 0x195EBDD8u);
  BOOST_TEST(frames_of(":X1N;")[0].header == 1u);
  BOOST_TEST(frames_of("noise;;\r\n:X195B4DD8N010000000000FFFD; noise :X17020DD8N;").size() == 2u);
  BOOST_TEST(frames_of(":X195B4DD:X17020DD8N;").size() == 1u);  // a new ':' begins anew
  FrameReader reader;
  reader.feed(":S123N00;:X195B4DD8R8;");
  BOOST_TEST(reader.counts().skipped == 2u);
  reader.feed(":X195B4DD8N0;:X195B4DD8N000000000000000000;:X395B4DD8N;:XN;:;:X195B4DD8;:Y195B4DD8N;:X195B4DD8Ngg;");
  BOOST_TEST(reader.counts().bad == 8u);
  reader.feed(std::string(1000000, 'A'));
  reader.feed(":X" + std::string(1000000, 'A'));
  reader.feed(":X17020DD8N;");
  BOOST_TEST(reader.counts().good == 1u);
}

BOOST_AUTO_TEST_CASE(random_frames_come_back_byte_by_byte_and_random_bytes_break_nothing) {
  std::mt19937 random(7);
  FrameReader reader;
  for (int round = 0; round < 2000; ++round) {
    std::array<std::uint8_t, 8> data{};
    for (std::uint8_t& byte : data) byte = static_cast<std::uint8_t>(random());
    const Frame frame = make_frame(static_cast<std::uint32_t>(random()), std::span(data).first(random() % 9));
    for (const char byte : written(frame)) reader.feed(std::string_view(&byte, 1));
    BOOST_TEST((reader.next() == frame));
    std::string noise(random() % 40, '?');
    for (char& byte : noise) byte = static_cast<char>(random());
    reader.feed(noise);
    while (reader.next()) continue;
    reader.feed(";");
    while (reader.next()) continue;
  }
}

// Unique Identifiers Standard 5.8; Event Identifiers Standard 5.2.
BOOST_AUTO_TEST_CASE(identities) {
  BOOST_TEST(node("02.01.0D.4C.43.01").value == 0x02010D4C4301u);
  BOOST_TEST(node("02.01.0D.4C.43.01").text() == "02.01.0D.4C.43.01");
  BOOST_TEST(EventId::parse("01.01.02.00.00.FB.00.0C").value().text() == "01.01.02.00.00.FB.00.0C");
  for (const char* wrong :
       {"", "02.01.0D.4C.43", "02.01.0D.4C.43.01.00", "02-01-0D-4C-43-01", "02.01.0D.4C.43.0G", "2.1.D.4C.43.1"}) {
    BOOST_TEST(!NodeId::parse(wrong).has_value());
  }
  BOOST_TEST(train_node(dcc::VehicleAddress::short_form(3)).text() == "06.01.00.00.00.03");
  BOOST_TEST(train_node(dcc::VehicleAddress::long_form(3)).text() == "06.01.00.00.C0.03");
  BOOST_TEST(train_node(dcc::VehicleAddress::long_form(1732)).text() == "06.01.00.00.C6.C4");
  BOOST_TEST(train_node(dcc::VehicleAddress::long_form(10239)).text() == "06.01.00.00.E7.FF");
}

// Train Search Standard 5.2, tables 3 and 4: digits in nibbles, unused ones in front F; allocate, exact, address only.
BOOST_AUTO_TEST_CASE(train_searches) {
  BOOST_TEST(train_search(dcc::VehicleAddress::short_form(3), 128).text() == "09.00.99.FF.FF.FF.F3.EB");
  BOOST_TEST(train_search(dcc::VehicleAddress::short_form(3), 28).text() == "09.00.99.FF.FF.FF.F3.EA");
  BOOST_TEST(train_search(dcc::VehicleAddress::long_form(2000), 128).text() == "09.00.99.FF.FF.20.00.EF");
  BOOST_TEST(train_search(dcc::VehicleAddress::long_form(10239), 28).text() == "09.00.99.FF.F1.02.39.EE");
}

// CAN Frame Transfer Standard 6.3; values derived with two independent codings (reference/lcc.md 2.4).
BOOST_AUTO_TEST_CASE(aliases) {
  const auto sequence = [](const char* id) {
    AliasGenerator generator(node(id));
    std::vector<int> aliases;
    for (int i = 0; i < 4; ++i) aliases.push_back(generator.next());
    return aliases;
  };
  using List = std::vector<int>;
  const auto same = boost::test_tools::per_element();
  BOOST_TEST(sequence("02.01.0D.4C.43.01") == (List{0xDD8, 0x1F9, 0x17A, 0xD6E}), same);
  BOOST_TEST(sequence("02.01.0D.4C.43.02") == (List{0xFD9, 0x5BE, 0x840, 0x48C}), same);
  BOOST_TEST(sequence("12.34.56.78.9A.BC") == (List{0x855, 0x9EB, 0xF72, 0xFE3}), same);
  const std::vector<int> skipping = sequence("0A.00.00.00.00.01");
  BOOST_TEST((List{skipping.begin(), skipping.begin() + 3}) == (List{0x4FD, 0x001, 0xC65}), same);  // 000 is skipped
}

BOOST_AUTO_TEST_CASE(whose_alias_it_is_follows_the_node) {
  AliasBook book;
  book.note(0x123, node("06.01.00.00.00.03"));
  book.note(0x124, node("06.01.00.00.00.03"));  // it moved
  BOOST_TEST(!book.node(0x123).has_value());
  BOOST_TEST(book.alias(node("06.01.00.00.00.03")).value() == 0x124);
  book.note(0x124, node("06.01.00.00.C0.03"));  // another took it
  BOOST_TEST(!book.alias(node("06.01.00.00.00.03")).has_value());
  book.forget(0x124);
  BOOST_TEST(!book.alias(node("06.01.00.00.C0.03")).has_value());
}

// Train Control Technical Note 2.4.4 and 4.1; IEEE 754 half precision; one scale mph is 0.44704 m/s exactly.
BOOST_AUTO_TEST_CASE(half_precision) {
  const auto forward = [](double speed_m_s) { return half(speed_m_s, Direction::forward); };
  BOOST_TEST(forward(4.125) == 0x4420);
  BOOST_TEST(forward(100) == 0x5640);
  BOOST_TEST(forward(1) == 0x3C00);
  BOOST_TEST(forward(std::ldexp(1, -24)) == 0x0001);
  BOOST_TEST(forward(0) == 0x0000);
  BOOST_TEST(half(0, Direction::reverse) == 0x8000);
  BOOST_TEST(forward(1e9) == 0x7BFF);
  const std::vector<std::pair<int, int>> table = {{1, 0x3727},   {2, 0x3B27},   {3, 0x3D5D},   {5, 0x4078},
                                                  {10, 0x4478},  {20, 0x4878},  {28, 0x4A42},  {40, 0x4C78},
                                                  {50, 0x4D97},  {63, 0x4F0A},  {64, 0x4F27},  {80, 0x5078},
                                                  {100, 0x5197}, {120, 0x52B5}, {125, 0x52FC}, {126, 0x530A}};
  for (const auto& [mph, bits] : table) {
    BOOST_TEST(forward(mph * 0.44704) == bits);
    BOOST_TEST(half(mph * 0.44704, Direction::reverse) == (bits | 0x8000));
    BOOST_TEST(from_half(static_cast<std::uint16_t>(bits)).speed_m_s == mph * 0.44704,
               boost::test_tools::tolerance(1.0 / 2048));
  }
  for (const int nothing : {0x7E00, 0xFFFF, 0x7C00, 0xFC00}) {
    BOOST_TEST(!from_half(static_cast<std::uint16_t>(nothing)).valid);
  }
}

BOOST_AUTO_TEST_CASE(every_half_comes_back) {
  for (unsigned bits = 0; bits <= 0xFFFF; ++bits) {
    const HalfSpeed speed = from_half(static_cast<std::uint16_t>(bits));
    if (!speed.valid) continue;
    BOOST_REQUIRE(half(speed.speed_m_s, speed.direction) == bits);
  }
}

// Every step of both modes, for a station that rounds as the technical note says and for one that cuts off.
BOOST_AUTO_TEST_CASE(speeds_that_give_exact_steps) {
  const StepLaw law;
  for (const StepMode mode : {StepMode::steps28, StepMode::steps126}) {
    const int top = top_step(mode);
    for (int step = 0; step <= top; ++step) {
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        const std::uint16_t bits = speed_of_step({step, direction, mode}, law);
        BOOST_TEST_CONTEXT("step " << step << " of " << top) {
          BOOST_TEST(step_of(bits, top, true) == step);
          BOOST_TEST(step_of(bits, top, false) == step);
          BOOST_TEST((from_half(bits).direction == direction));
        }
      }
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()
