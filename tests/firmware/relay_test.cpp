// What opens the relay and keeps it open. Source of what is expected: PROTOCOL.md; the times are the board's task.
#include <boost/test/unit_test.hpp>

#include "tests/firmware/host.h"

namespace lapwright::firmware {
namespace {

/// When the relay opened after this cycle, in milliseconds; fails when it did not.
double opened_after_ms(const VirtualBoard& board, std::uint64_t from_cycle) {
  for (const RelayChange& change : board.relay_changes) {
    if (!change.closed && change.cycle >= from_cycle) return ms_between(from_cycle, change.cycle);
  }
  BOOST_ERROR("the relay did not open");
  return 1e9;
}

BOOST_AUTO_TEST_SUITE(relay)

BOOST_AUTO_TEST_CASE(lease_lasts_400_ms) {
  VirtualBoard board(release_elf);
  boot(board);
  for (int phase = 0; phase < 20; ++phase) {
    BOOST_TEST(board.ask('L') == "ok");
    BOOST_TEST(board.ask('P', "1") == "ok");
    run_leased_ms(board, 300);
    board.run_us(static_cast<std::uint64_t>(phase) * 53);
    const std::uint64_t received = board.cycle() + 10 * byte_cycles;
    board.send_line('L');
    board.run_us(450'000);
    const double lasted_ms = opened_after_ms(board, received);
    BOOST_TEST((lasted_ms >= 398 && lasted_ms <= 402), "the lease lasted " << lasted_ms << " ms");
    const State state = board.next_state();
    BOOST_TEST(state.fault == 'l');
    BOOST_TEST(state.lease_ms == 0);
    BOOST_TEST(board.ask('L') == "ok");
    BOOST_TEST(!board.relay_closed());  // a new lease alone closes nothing
    BOOST_TEST(board.ask('P', "1") == "fault");
    BOOST_TEST(board.ask('C') == "ok");
  }
}

BOOST_AUTO_TEST_CASE(the_lease_that_is_left_is_told) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.ask('L') == "ok");
  const int first = board.next_state().lease_ms;
  const int second = board.next_state().lease_ms;
  BOOST_TEST((first > 250 && first < 400), first);
  BOOST_TEST((first - second >= 97 && first - second <= 103), first - second);
}

BOOST_AUTO_TEST_CASE(a_renewed_lease_keeps_the_relay_closed) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  run_leased_ms(board, 10'000);
  BOOST_TEST(board.relay_changes.size() == 1U);
  const State state = board.next_state();
  BOOST_TEST((state.energised_s == 10), state.energised_s);
  BOOST_TEST(state.fault == '-');
}

BOOST_AUTO_TEST_CASE(open_from_reset_until_asked_whatever_else_is_said) {
  VirtualBoard board(release_elf);
  using Boot = VirtualBoard::Boot;
  for (const Boot cause : {Boot::power, Boot::reset_pin, Boot::brown_out, Boot{}}) {
    board.relay_changes.clear();
    boot(board);
    for (const char kind : {'L', 'I', 'C', 'Q', 'L'}) BOOST_TEST(board.ask(kind) != "nothing");
    BOOST_TEST(board.ask('P', "0") == "ok");
    run_leased_ms(board, 500);
    BOOST_TEST(board.relay_changes.empty());
    BOOST_TEST(energise(board));
    board.relay_changes.clear();
    board.reset(cause);
    BOOST_TEST(!board.relay_closed());
    board.run_us(500'000);
    BOOST_TEST(board.relay_changes.size() == 1U);  // the reset's own opening
  }
}

BOOST_AUTO_TEST_CASE(a_lease_does_not_outlive_a_reset) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  board.reset(VirtualBoard::Boot::reset_pin);
  board.run_us(50'000);
  BOOST_TEST(board.ask('P', "1") == "lease");
}

// The data sheet's watchdog may be slow by a tenth or so; 125 ms leave room for that, 250 ms would hardly.
BOOST_AUTO_TEST_CASE(a_hang_opens_the_relay_within_300_ms) {
  VirtualBoard board(test_elf);
  boot(board);
  for (int phase = 0; phase < 6; ++phase) {
    BOOST_TEST(energise(board));
    board.run_us(static_cast<std::uint64_t>(phase) * 310);
    const int boots = board.boots;
    const std::uint64_t asked = board.cycle();
    board.send_line('X', phase % 2 == 0 ? "" : "1");  // with interrupts off, and with all of them going on
    board.run_us(400'000);
    BOOST_TEST(board.boots == boots + 1);
    const double hung_ms = opened_after_ms(board, asked);
    BOOST_TEST((hung_ms > 50 && hung_ms <= 200), "open after " << hung_ms << " ms");
    BOOST_TEST(board.last('h')->fields.at(5) == "w");
    BOOST_TEST(board.next_state().fault == 'w');
    BOOST_TEST(board.ask('L') == "ok");
    BOOST_TEST(board.ask('P', "1") == "fault");
    BOOST_TEST(board.ask('C') == "ok");
  }
  board.reset(VirtualBoard::Boot::reset_pin);
  boot(board);
  BOOST_TEST(board.next_state().fault == '-');
}

// Without the millisecond's tick no lease runs out any more; the main loop, which still goes round, must not feed then.
BOOST_AUTO_TEST_CASE(a_dead_tick_opens_the_relay_within_300_ms) {
  constexpr std::uint16_t timsk2 = 0x70;
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  const std::uint64_t then = board.cycle();
  board.disturb(timsk2, 0);
  board.run_us(350'000);
  BOOST_TEST(opened_after_ms(board, then) <= 200);
  BOOST_TEST(board.next_state().fault == 'w');
}

BOOST_AUTO_TEST_CASE(the_watchdog_leaves_a_working_board_alone) {
  VirtualBoard board(release_elf);
  board.run_us(5'000'000);
  BOOST_TEST(board.boots == 1);
}

BOOST_AUTO_TEST_CASE(the_stop_button_opens_and_latches) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  const std::uint64_t pressed = board.cycle();
  board.set_button_open(true);
  board.run_us(20'000);
  BOOST_TEST(opened_after_ms(board, pressed) <= 6);
  BOOST_TEST(board.next_state().fault == 'b');
  board.set_button_open(false);
  board.run_us(20'000);
  BOOST_TEST(board.ask('L') == "ok");
  BOOST_TEST(board.ask('P', "1") == "fault");
  BOOST_TEST(board.ask('C') == "ok");
  BOOST_TEST(energise(board));
  board.set_button_open(true);  // a spark is no press
  board.run_us(2'500);
  board.set_button_open(false);
  board.run_us(20'000);
  BOOST_TEST(board.relay_closed());
}

BOOST_AUTO_TEST_CASE(an_open_button_is_a_fault_while_the_relay_is_open_too) {
  VirtualBoard board(release_elf);
  board.set_button_open(true);
  boot(board);
  BOOST_TEST(board.next_state().fault == 'b');
  BOOST_TEST(board.ask('L') == "ok");
  BOOST_TEST(board.ask('P', "1") == "fault");
}

BOOST_AUTO_TEST_CASE(the_longest_time_in_one_go) {
  VirtualBoard board(test_elf);  // 3 s
  boot(board);
  for (int times = 0; times < 2; ++times) {
    BOOST_TEST(energise(board));
    const std::uint64_t closed = board.relay_changes.back().cycle;
    run_leased_ms(board, 1500);
    BOOST_TEST(board.ask('P', "1") == "ok");  // asking again does not begin anew
    run_leased_ms(board, 2000);
    const double lasted_ms = opened_after_ms(board, closed);
    BOOST_TEST((lasted_ms >= 2998 && lasted_ms <= 3002), "closed for " << lasted_ms << " ms");
    const State state = board.next_state();
    BOOST_TEST(state.fault == 't');
    BOOST_TEST(state.energised_s == 0);
    BOOST_TEST(board.ask('C') == "ok");
  }
  BOOST_TEST(energise(board));
  run_leased_ms(board, 2000);
  BOOST_TEST(board.ask('P', "0") == "ok");
  BOOST_TEST(energise(board));
  run_leased_ms(board, 2000);  // two goes
  BOOST_TEST(board.relay_closed());
}

BOOST_AUTO_TEST_CASE(the_first_fault_stays) {
  VirtualBoard board(release_elf);
  boot(board);
  const std::vector<std::pair<char, std::function<void()>>> causes = {{'h', [&] { board.send("\x18"); }},
                                                                      {'b', [&] { board.set_button_open(true); }},
                                                                      {'c', [&] { board.set_current_mA(2000); }},
                                                                      {'s', [&] { board.set_sensor_mV(0); }},
                                                                      {'l', [] {}}};
  for (const auto& [first, cause] : causes) {
    BOOST_TEST(energise(board));
    cause();
    board.run_us(first == 'l' ? 450'000 : 10'000);
    BOOST_TEST(!board.relay_closed());
    for (const auto& [other, follows] : causes) {
      follows();
      board.run_us(10'000);
      BOOST_TEST(board.next_state().fault == first, first << " gave way to " << other);
    }
    board.set_button_open(false);
    board.set_current_mA(0);
    board.run_us(10'000);
    BOOST_TEST(board.ask('C') == "ok");
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
