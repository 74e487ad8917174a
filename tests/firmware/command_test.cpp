// Every line of the host and every refusal. Source of what is expected: drivers/trackside/PROTOCOL.md.
#include <boost/test/unit_test.hpp>

#include "tests/firmware/host.h"

namespace lapwright::firmware {
namespace {

/// Asks, and lets this happen 0.3 ms before the line's last byte is received.
std::string ask_while(VirtualBoard& board, char kind, const std::string& fields, const std::function<void()>& event) {
  const std::size_t bytes = 10 + (fields.empty() ? 0 : fields.size() + 1);
  board.at(board.cycle() + bytes * byte_cycles - 300 * cycles_per_us, event);
  return board.ask(kind, fields);
}

BOOST_AUTO_TEST_SUITE(commands)

BOOST_AUTO_TEST_CASE(relay_closes_with_a_lease_and_opens_on_demand) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  BOOST_TEST(!board.relay_closed());
  BOOST_TEST(board.ask('P', "1") == "ok");
  BOOST_TEST(board.relay_closed());
  BOOST_TEST(board.ask('P', "1") == "ok");
  BOOST_TEST(board.next_state().closed);
  BOOST_TEST(board.ask('P', "0") == "ok");
  BOOST_TEST(!board.relay_closed());
  const State state = board.next_state();
  BOOST_TEST(!state.closed);
  BOOST_TEST(state.fault == '-');
  BOOST_TEST(energise(board));
}

BOOST_AUTO_TEST_CASE(changes_are_told_at_once) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  for (const char* wanted : {"1", "0", "1"}) {
    board.lines.clear();
    BOOST_TEST(board.ask('P', wanted) == "ok");
    const BoardLine* told = nullptr;
    for (const BoardLine& line : board.lines) {
      if (line.kind == 's' && line.fields[3] == wanted) told = &line;
    }
    BOOST_TEST_REQUIRE(told != nullptr);
    BOOST_TEST(ms_between(board.relay_changes.back().cycle, told->begun_cycle) < 8);
  }
}

BOOST_AUTO_TEST_CASE(no_relay_without_a_lease) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('P', "1") == "lease");
  BOOST_TEST(board.ask('L') == "ok");
  board.run_us(405'000);
  BOOST_TEST(board.ask('P', "1") == "lease");
  BOOST_TEST(board.relay_changes.empty());
  BOOST_TEST(board.next_state().fault == '-');  // a lease that runs out while the relay is open is no fault
}

BOOST_AUTO_TEST_CASE(no_relay_while_a_fault_is_latched) {
  VirtualBoard board(release_elf);
  boot(board);
  board.send("\x18");
  board.run_us(1'000);
  BOOST_TEST(board.ask('L') == "ok");
  BOOST_TEST(board.ask('P', "1") == "fault");
  BOOST_TEST(board.relay_changes.empty());
  BOOST_TEST(board.ask('C') == "ok");
  BOOST_TEST(!board.relay_closed());
  BOOST_TEST(energise(board));
}

BOOST_AUTO_TEST_CASE(no_relay_while_current_is_above_the_trip) {
  VirtualBoard board(test_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  const auto over = [&] { board.set_current_mA(2000); };
  BOOST_TEST(ask_while(board, 'P', "1", over) == "over");
  BOOST_TEST(board.relay_changes.empty());
}

BOOST_AUTO_TEST_CASE(no_relay_while_the_sensor_is_implausible) {
  VirtualBoard board(test_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  const auto broken = [&] { board.set_sensor_mV(0); };
  BOOST_TEST(ask_while(board, 'P', "1", broken) == "sensor");
  BOOST_TEST(board.relay_changes.empty());
}

BOOST_AUTO_TEST_CASE(nothing_is_cleared_while_its_cause_is_there) {
  VirtualBoard board(release_elf);
  boot(board);
  const auto refused = [&](const std::function<void()>& cause, const std::function<void()>& relief, char fault,
                           const std::string& word) {
    cause();
    board.run_us(10'000);
    BOOST_TEST(board.next_state().fault == fault);
    BOOST_TEST(board.ask('C') == word);
    BOOST_TEST(board.next_state().fault == fault);
    relief();
    board.run_us(10'000);
    BOOST_TEST(board.next_state().fault == fault);  // it stays until C
    BOOST_TEST(board.ask('C') == "ok");
    BOOST_TEST(board.next_state().fault == '-');
  };
  refused([&] { board.set_current_mA(2000); }, [&] { board.set_current_mA(0); }, 'c', "over");
  refused([&] { board.set_sensor_mV(0); }, [&] { board.set_current_mA(0); }, 's', "sensor");
  refused([&] { board.set_sensor_mV(5000); }, [&] { board.set_current_mA(0); }, 's', "sensor");
  refused([&] { board.set_button_open(true); }, [&] { board.set_button_open(false); }, 'b', "button");
  BOOST_TEST(board.relay_changes.empty());
}

BOOST_AUTO_TEST_CASE(clearing_without_a_fault_changes_nothing) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  BOOST_TEST(board.ask('C') == "ok");
  BOOST_TEST(board.relay_closed());
}

BOOST_AUTO_TEST_CASE(what_is_not_understood) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('Q') == "what");
  BOOST_TEST(board.ask('Q', "1 2 3") == "what");
  BOOST_TEST(board.ask('X') == "what");  // hanging on purpose is for test builds only
  BOOST_TEST(board.ask('L', "1") == "args");
  BOOST_TEST(board.ask('C', "1") == "args");
  BOOST_TEST(board.ask('I', "x") == "args");
  BOOST_TEST(board.ask('P') == "args");
  for (const char* wrong : {"2", "01", "10", "1 1", "-", "A"}) BOOST_TEST(board.ask('P', wrong) == "args");
  BOOST_TEST(board.next_state().bad == 0);
  BOOST_TEST(board.ask('P', "1") == "lease");  // that L with a field renewed nothing
}

BOOST_AUTO_TEST_CASE(answers_name_the_line_and_stamp_its_end) {
  VirtualBoard board(release_elf);
  boot(board);
  for (int asked = 0; asked < 300; ++asked) {
    const std::uint64_t begun = board.cycle();
    BOOST_TEST(board.ask('L') == "ok");
    const BoardLine& answer = *board.last('a');
    BOOST_TEST(static_cast<int>(answer.hex(0)) == asked % 256);
    const double late_us = stamp_error_us(board, answer.hex(2), begun + 10 * byte_cycles);
    BOOST_TEST((late_us > -1 && late_us < 60), late_us << " us late");
  }
  BOOST_TEST(board.gaps == 0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
