// The track current: what is told of it, and the trip. Source of what is expected: PROTOCOL.md; 2 ms are the board's
// task.
#include <boost/test/unit_test.hpp>

#include "tests/firmware/host.h"

namespace lapwright::firmware {
namespace {

constexpr std::uint64_t sample_cycles = 1664;  // 13 cycles of 16 MHz / 128, ATmega328P data sheet

/// Closes the relay, does this to the sensor, and tells after how many microseconds the relay opened; 0 if it did not.
double opened_after_us(VirtualBoard& board, std::uint64_t phase_cycles, const std::function<void()>& event) {
  board.set_current_mA(0);
  board.run_us(5'000);
  BOOST_TEST(board.ask('C') == "ok");
  BOOST_TEST(energise(board));
  board.run_us(5'000);
  const std::uint64_t then = (board.cycle() / sample_cycles + 2) * sample_cycles + phase_cycles;
  board.at(then, event);
  board.relay_changes.clear();
  board.run_us(10'000);
  return board.relay_changes.empty() ? 0 : 1e3 * ms_between(then, board.relay_changes[0].cycle);
}

BOOST_AUTO_TEST_SUITE(track_current)

BOOST_AUTO_TEST_CASE(over_current_opens_the_relay_at_every_phase_of_the_converter) {
  VirtualBoard board(release_elf);
  boot(board);
  for (const int over_mA : {1560, 3000, -1560, -3000}) {
    for (std::uint64_t phase = 0; phase < sample_cycles; phase += 128) {
      const double late_us = opened_after_us(board, phase, [&] { board.set_current_mA(over_mA); });
      BOOST_TEST((late_us >= 700 && late_us <= 950), over_mA << " mA opened the relay after " << late_us << " us");
      BOOST_TEST(board.next_state().fault == 'c');
    }
  }
}

BOOST_AUTO_TEST_CASE(the_longest_trip_time_is_kept) {
  VirtualBoard board(test_elf);  // 2000 us
  boot(board);
  for (std::uint64_t phase = 0; phase < sample_cycles; phase += 256) {
    const double late_us = opened_after_us(board, phase, [&] { board.set_current_mA(2000); });
    BOOST_TEST((late_us >= 2000 && late_us <= 2220), "opened after " << late_us << " us");
  }
}

BOOST_AUTO_TEST_CASE(a_pulse_shorter_than_the_trip_time_does_not_trip) {
  VirtualBoard board(release_elf);
  boot(board);
  const auto pulse_us = [&](std::uint64_t long_us) {
    return [&board, long_us] {
      board.set_current_mA(3000);
      board.at(board.cycle() + long_us * cycles_per_us, [&board] { board.set_current_mA(0); });
    };
  };
  for (std::uint64_t phase = 0; phase < sample_cycles; phase += 64) {
    BOOST_TEST(opened_after_us(board, phase, pulse_us(695)) == 0);
  }
  BOOST_TEST(opened_after_us(board, 0, pulse_us(950)) > 0);
}

BOOST_AUTO_TEST_CASE(pulses_with_pauses_do_not_add_up) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(energise(board));
  for (int pulse = 0; pulse < 100; ++pulse) {
    board.set_current_mA(3000);
    board.run_us(600);
    board.set_current_mA(0);
    board.run_us(220);
  }
  BOOST_TEST(board.relay_closed());
}

BOOST_AUTO_TEST_CASE(just_below_the_trip_it_stays_closed) {
  VirtualBoard board(release_elf);
  boot(board);
  for (const int below_mA : {1460, -1460}) {
    BOOST_TEST(opened_after_us(board, 0, [&] { board.set_current_mA(below_mA); }) == 0);
  }
}

BOOST_AUTO_TEST_CASE(a_sensor_at_an_end_of_its_range_is_told_apart) {
  VirtualBoard board(release_elf);
  boot(board);
  for (const int end_mV : {0, 10, 4995, 5000}) {
    const double late_us = opened_after_us(board, 0, [&] { board.set_sensor_mV(end_mV); });
    BOOST_TEST((late_us > 0 && late_us <= 2000), end_mV << " mV opened the relay after " << late_us << " us");
    BOOST_TEST(board.next_state().fault == 's');
  }
  BOOST_TEST(opened_after_us(board, 0, [&] { board.set_sensor_mV(4900); }) > 0);
  BOOST_TEST(board.next_state().fault == 'c');
}

BOOST_AUTO_TEST_CASE(a_converter_that_stands_still_is_no_sensor) {
  constexpr std::uint16_t adcsra = 0x7A;
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(opened_after_us(board, 0, [&] { board.disturb(adcsra, 0xE7); }) > 0);  // its interrupt is off
  BOOST_TEST(board.next_state().fault == 's');
  BOOST_TEST(board.ask('C') == "sensor");
}

// Going to and fro between over-current and the end of the range must not restart the time.
BOOST_AUTO_TEST_CASE(over_current_that_saturates_the_sensor_opens_in_time) {
  VirtualBoard board(release_elf);
  boot(board);
  const double late_us = opened_after_us(board, 0, [&] {
    for (std::uint64_t step = 0; step < 40; ++step) {
      board.at(board.cycle() + step * sample_cycles,
               [&board, step] { board.set_sensor_mV(step % 2 == 0 ? 5000 : 4500); });
    }
  });
  BOOST_TEST((late_us > 0 && late_us <= 950), late_us);
}

// One step of the converter is 26 mA here, and the simulator's converter rounds down.
BOOST_AUTO_TEST_CASE(mean_and_peak) {
  VirtualBoard board(release_elf);
  boot(board);
  for (const int current_mA : {0, 100, 500, 1000, -500}) {
    board.set_current_mA(current_mA);
    board.next_state();
    const State state = board.next_state();
    BOOST_TEST(std::abs(state.current_mA - current_mA) <= 40);
    BOOST_TEST(std::abs(state.peak_mA - current_mA) <= 40);
  }
  board.set_current_mA(200);
  board.next_state();
  board.set_current_mA(1200);  // half of the time
  board.run_us(50'000);
  board.set_current_mA(200);
  const State half = board.next_state();
  BOOST_TEST(std::abs(half.current_mA - 700) <= 60);
  BOOST_TEST(std::abs(half.peak_mA - 1200) <= 40);
  board.set_current_mA(-2000);
  board.run_us(300);
  board.set_current_mA(200);
  BOOST_TEST(std::abs(board.next_state().peak_mA + 2000) <= 40);
  const State after = board.next_state();  // neither is remembered
  BOOST_TEST(std::abs(after.peak_mA - 200) <= 40);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
