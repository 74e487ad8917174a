// Those worked frames of reference/lcc.md 9 that are no part of this program's own conversations: as messages, both
// ways, and as what the gates hear. The document that each follows from is named beside it.
#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

using Bytes = std::vector<std::uint8_t>;

constexpr Alias us = 0xDD8, train = 0xE7A;

std::vector<Message> messages_of(std::string_view text) {
  FrameReader frames;
  MessageReader messages;
  std::vector<Message> read;
  frames.feed(text);
  while (const auto frame = frames.next()) {
    if (auto message = messages.take(*frame, Instant{})) read.push_back(std::move(*message));
  }
  BOOST_TEST(frames.counts().bad == 0u);
  BOOST_TEST(messages.dropped() == 0u);
  return read;
}

std::string text_of(const Message& message) {
  std::string text;
  for (const Frame& frame : frames_of(message)) text += written(frame).substr(0, written(frame).find('\n'));
  return text;
}

/// Read, they are this message; written, it is them again.
void check(const std::string& frames, const Message& message) {
  BOOST_TEST_CONTEXT(frames) {
    const std::vector<Message> read = messages_of(frames);
    BOOST_TEST_REQUIRE(read.size() == 1u);
    BOOST_TEST((read.front() == message));
    BOOST_TEST(text_of(message) == frames);
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(lcc_worked_frames)

// Row 11: Train Search Standard 5.2, tables 3 and 4: 0x40 is "exact match only" and nothing is created.
BOOST_AUTO_TEST_CASE(a_search_for_a_train_that_exists) {
  const Bytes search = {0x09, 0x00, 0x99, 0xFF, 0xFF, 0x17, 0x32, 0x40};
  check(":X19914DD8N090099FFFF173240;", {Mti::identify_producer, us, 0, search});
  check(":X19544618N090099FFFF173240;", {Mti::producer_valid, 0x618, 0, search});
}

// Row 14: Train Control Standard 4.3 and 4.4: who controls the train; the answer takes two frames, 6 + 3.
BOOST_AUTO_TEST_CASE(who_controls_a_train) {
  check(":X195EBDD8N0E7A2003;", {Mti::train_command, us, train, {0x20, 0x03}});
  check(":X191E9E7AN1DD820030002010D;:X191E9E7AN2DD84C4301;",
        {Mti::train_reply, train, us, {0x20, 0x03, 0x00, 0x02, 0x01, 0x0D, 0x4C, 0x43, 0x01}});
}

// Rows 15 to 19: Train Control Standard 4.3, Technical Note 4.1: one scale mile an hour for each step of 126.
BOOST_AUTO_TEST_CASE(speeds_as_frames) {
  const std::vector<std::tuple<std::string, double, Direction>> rows = {
      {":X195EBDD8N0E7A003727;", 0.44704, Direction::forward}, {":X195EBDD8N0E7A004D97;", 22.352, Direction::forward},
      {":X195EBDD8N0E7A00530A;", 56.327, Direction::forward},  {":X195EBDD8N0E7A00C478;", 4.4704, Direction::reverse},
      {":X195EBDD8N0E7A008000;", 0, Direction::reverse},
  };
  for (const auto& [frame, speed_m_s, direction] : rows) {
    const std::uint16_t bits = half(speed_m_s, direction);
    check(frame, {Mti::train_command,
                  us,
                  train,
                  {0x00, static_cast<std::uint8_t>(bits >> 8U), static_cast<std::uint8_t>(bits)}});
  }
}

// Row 22: Train Control Technical Note 2.4.4: a speed reply from 123 to 456, all three speeds 0x4420, 4.125 m/s.
BOOST_AUTO_TEST_CASE(a_speed_reply) {
  check(":X191E9123N1456104420004420;:X191E9123N24564420;",
        {Mti::train_reply, 0x123, 0x456, {0x10, 0x44, 0x20, 0x00, 0x44, 0x20, 0x44, 0x20}});
  BOOST_TEST(from_half(0x4420).speed_m_s == 4.125);
  BOOST_TEST((from_half(0x4420).direction == Direction::forward));
}

// Row 23: Train Control Standard 4.3: function 0 on, a 24-bit number and a 16-bit value.
BOOST_AUTO_TEST_CASE(a_function) {
  check(":X195EBDD8N0E7A010000000001;", {Mti::train_command, us, train, {0x01, 0x00, 0x00, 0x00, 0x00, 0x01}});
}

// Row 30: Datagram Transport Standard 7.1: ten bytes are a first and a last frame; Memory Configuration Standard 4.8:
// CV 67, 68, 69 := 1, 2, 3.
BOOST_AUTO_TEST_CASE(several_cvs_in_one_datagram) {
  check(":X1BE7ADD8N200000000042F801;:X1DE7ADD8N0203;",
        {Mti::datagram, us, train, {0x20, 0x00, 0x00, 0x00, 0x00, 0x42, 0xF8, 0x01, 0x02, 0x03}});
}

// Row 35: Memory Configuration Standard 4.14: space F8 exists, is writable, and ends at 0x7F000004.
BOOST_AUTO_TEST_CASE(what_the_cv_space_is_like) {
  check(":X1AE7ADD8N2084F8;", {Mti::datagram, us, train, {0x20, 0x84, 0xF8}});
  check(":X1ADD8E7AN2087F87F00000400;", {Mti::datagram, train, us, {0x20, 0x87, 0xF8, 0x7F, 0x00, 0x00, 0x04, 0x00}});
}

// Row 36: Event Identifiers Standard 5.2: emergency stop of all, and its end.
BOOST_AUTO_TEST_CASE(stopping_all_trains) {
  const auto report = [](EventId event) {
    const auto bytes = event.bytes();
    return Message{Mti::event_report, us, 0, Bytes(bytes.begin(), bytes.end())};
  };
  check(":X195B4DD8N010000000000FFFD;", report(event::emergency_stop_all));
  check(":X195B4DD8N010000000000FFFC;", report(event::clear_emergency_stop_all));
  check(":X195B4DD8N010000000000FFFF;", report(event::emergency_off));
  check(":X195B4DD8N010000000000FFFE;", report(event::clear_emergency_off));
}

/// Event Identifiers Standard 5.3: a sensor of a DCC system, address 12, active and not.
GateEvents sensor_12() {
  return {EventId::parse("01.01.02.00.00.FB.00.0C").value(), EventId::parse("01.01.02.00.00.FA.00.0C").value()};
}

// Rows 39 and 41: Event Identifiers Standard 5.3 (a sensor of a DCC system, address 12), Event Transport Standard 4.1:
// a report is an occurrence; 4.5 and 4.6: what a producer says of its state is none.
BOOST_AUTO_TEST_CASE(a_sensor_as_a_gate) {
  Peer peer;
  EventGates gates(peer.station.node(), {sensor_12()});
  peer.station.use_event_gates(gates);
  peer.run([&gates](Peer& inside) -> asio::awaitable<void> {
    co_await inside.pass(0.3);
    inside.hear(":X19545345N0101020000FB000C;");  // row 41: not active now
    inside.hear(":X19544345N0101020000FB000C;");
    const Instant soon = inside.clock.now() + seconds(0.1);
    const std::optional<GateEdge> none = co_await gates.next_edge(soon);
    BOOST_TEST(!none.has_value());
    inside.hear(":X195B4345N0101020000FB000C;");  // row 39
    inside.hear(":X195B4345N0101020000FA000C;");
    const Instant later = inside.clock.now() + seconds(0.1);
    const std::optional<GateEdge> first = co_await gates.next_edge(later);
    const std::optional<GateEdge> second = co_await gates.next_edge(later);
    BOOST_REQUIRE(first.has_value());
    BOOST_REQUIRE(second.has_value());
    BOOST_TEST(first->blocked);
    BOOST_TEST(!second->blocked);
    BOOST_TEST(first->gate == 0);
  });
}

// The same rows, and Event Transport Standard 6.3: Identify Producer asks whether the event holds now.
BOOST_AUTO_TEST_CASE(how_a_gate_is_before_it_changes) {
  Peer peer;
  EventGates gates(peer.station.node(), {sensor_12()});
  peer.station.use_event_gates(gates);
  peer.run([&gates](Peer& inside) -> asio::awaitable<void> {
    co_await inside.pass(0.3);
    BOOST_TEST(!gates.blocked(0).has_value());
    gates.ask();
    BOOST_TEST(inside.count(":X19914DD8N0101020000FB000C;") == 1);
    inside.hear(":X19547345N0101020000FB000C;");  // it can't tell
    BOOST_TEST(!gates.blocked(0).has_value());
    inside.hear(":X19545345N0101020000FB000C;");
    BOOST_TEST((gates.blocked(0) == false));
    inside.hear(":X19544345N0101020000FB000C;");
    BOOST_TEST((gates.blocked(0) == true));
    inside.hear(":X195B4345N0101020000FA000C;");
    BOOST_TEST((gates.blocked(0) == false));
    inside.hear(":X19545345N0101020000FA000C;");
    BOOST_TEST((gates.blocked(0) == true));
  });
}

BOOST_AUTO_TEST_SUITE_END()
