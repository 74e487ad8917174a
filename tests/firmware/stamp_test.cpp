// Stamps under full load: eight gates chattering at the rate that the line can carry, two at a time within
// microseconds, the converter running, and the serial line busy both ways. Source of the 5 us: the board's task.
//
// It runs three minutes of the board's time, over a wrap of its counter. LAPWRIGHT_FIRMWARE_HOUR=1 in the environment
// makes it a whole hour, which takes minutes.
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <random>

#include "tests/firmware/gate_watch.h"

namespace lapwright::firmware {
namespace {

constexpr std::uint32_t counter_begins_us =
    0x1FB3BU * 32768U;  // firmware_test.elf, drivers/trackside/firmware/CMakeLists.txt

/// The rig outside, busy on all wires.
class FullLoad {
 public:
  FullLoad(VirtualBoard& board, GateWatch& watch) : board_(board), watch_(watch) {}

  void begin() {
    for (int pair = 0; pair < 4; ++pair) toggle_pair_later(pair);
    vary_current();
    fill_receiver();
    renew_lease();
  }
  std::size_t leases = 0;
  int readable = 0, unreadable = 0;  ///< lines that fill the receiver

 private:
  std::uint64_t chosen(std::uint64_t least_us, std::uint64_t most_us) {
    const std::uint64_t span = (most_us - least_us) * cycles_per_us;
    return least_us * cycles_per_us + random_() % span;
  }
  void after(std::uint64_t cycles, std::function<void()> event) {
    board_.at(board_.cycle() + cycles, std::move(event));
  }

  // Gates 1-4 on one port, 5-8 on both: the second follows within 12 us.
  void toggle_pair_later(int pair) {
    after(chosen(24'000, 34'000), [this, pair] {
      watch_.toggle(1 + pair);
      after(random_() % (12 * cycles_per_us), [this, pair] { watch_.toggle(5 + pair); });
      toggle_pair_later(pair);
    });
  }
  void vary_current() {
    after(chosen(300, 3'000), [this] {
      board_.set_current_mA(static_cast<int>(random_() % 1000));
      vary_current();
    });
  }
  void renew_lease() {
    board_.send_line('L');
    ++leases;
    after(100'000 * cycles_per_us, [this] { renew_lease(); });
  }
  // Every third is answered with `args`; the others are right but for the CRC, so that the board has to count them
  // through.
  void fill_receiver() {
    const std::string line = "P 00 " + std::string(60, '1');
    if (!board_.is_sending() && (readable + unreadable) % 3 == 0) {
      board_.send(with_crc(line));
      ++readable;
    } else if (!board_.is_sending()) {
      board_.send(line + "*0000\n");
      ++unreadable;
    }
    after(byte_cycles / 4, [this] { fill_receiver(); });
  }

  VirtualBoard& board_;
  GateWatch& watch_;
  std::mt19937_64 random_{20261126};
};

BOOST_AUTO_TEST_SUITE(stamps)

BOOST_AUTO_TEST_CASE(within_5_us_under_full_load_and_over_the_wrap) {
  const bool whole_hour = std::getenv("LAPWRIGHT_FIRMWARE_HOUR") != nullptr;
  const int minutes = whole_hour ? 60 : 3;
  VirtualBoard board(test_elf);
  boot(board);
  GateWatch watch(board, counter_begins_us);
  std::size_t answers = 0, bytes = 0;
  int refused = 0;
  bool wrapped = false;
  int bad = 0;
  State state;
  board.on_byte = [&](char) { ++bytes; };
  board.on_line = [&](const BoardLine& line) {
    watch.take(line);
    if (line.kind == 's') {
      const State now = state_of(line);
      wrapped = wrapped || now.stamp_us < state.stamp_us;
      bad += static_cast<std::uint16_t>(now.bad - state.bad);
      state = now;
    }
    if (line.kind != 'a') return;
    if (line.fields[1] == "ok") ++answers;
    if (line.fields[1] == "args") ++refused;
  };
  FullLoad load(board, watch);
  load.begin();
  const std::uint64_t begun = board.cycle();
  for (int tenth = 0; tenth < minutes * 600; ++tenth) {
    board.run_us(100'000);
    board.lines.clear();
  }
  const double seconds = ms_between(begun, board.cycle()) / 1000;
  const double sender_busy = static_cast<double>(bytes * byte_cycles) / (seconds * 16e6);
  BOOST_TEST_MESSAGE(minutes << " min, " << watch.edges << " edges, stamp less truth " << watch.least_us << " to "
                             << watch.most_us << " us, longest wait " << watch.longest_wait_ms << " ms, sender "
                             << sender_busy * 100 << " % busy, " << board.untouched_ram()
                             << " bytes of RAM never used");
  BOOST_TEST(watch.least_us >= -5);
  BOOST_TEST(watch.most_us <= 5);
  BOOST_TEST(watch.changes - watch.edges <= 100);  // on their way at the end
  BOOST_TEST(watch.edges >= minutes * 60 * 270);
  BOOST_TEST(watch.unexplained == 0);
  BOOST_TEST(watch.passed_over == 0);
  BOOST_TEST(watch.longest_wait_ms < 300);
  BOOST_TEST(wrapped);
  BOOST_TEST(state.lost == 0);
  BOOST_TEST(state.fault == '-');
  BOOST_TEST(load.unreadable > minutes * 60 * 90);
  BOOST_TEST(std::abs(load.unreadable - bad) <= 20);  // since the last state line
  BOOST_TEST(std::abs(load.readable - refused) <= 1);
  BOOST_TEST(sender_busy > 0.9);
  BOOST_TEST(answers + 1 >= load.leases);  // the last is on its way
  BOOST_TEST(board.unreadable == 0);
  BOOST_TEST(board.gaps == 0);
  BOOST_TEST(board.boots == 1);
  BOOST_TEST(board.untouched_ram() >= 200U);
}

// Every phase of a lone edge against the board's own interrupts.
BOOST_AUTO_TEST_CASE(a_lone_edge_on_every_gate) {
  VirtualBoard board(release_elf);
  boot(board);
  GateWatch watch(board);
  board.on_line = [&](const BoardLine& line) { watch.take(line); };
  for (int edge = 0; edge < 1600; ++edge) {
    board.run_to(board.cycle() + 80'000 + static_cast<std::uint64_t>(edge) * 37 % 1664);
    watch.toggle(1 + edge % 8);
  }
  board.run_us(50'000);
  BOOST_TEST(watch.edges == 1600);
  BOOST_TEST(watch.unexplained == 0);
  BOOST_TEST(watch.least_us >= -5);
  BOOST_TEST(watch.most_us <= 5);
  BOOST_TEST(watch.longest_wait_ms < 12);
}

BOOST_AUTO_TEST_CASE(levels_are_told) {
  VirtualBoard board(release_elf);
  boot(board);
  BOOST_TEST(board.next_state().blocked == 0x00);
  board.set_gate(1, true);
  board.set_gate(6, true);
  BOOST_TEST(board.next_state().blocked == 0x21);
  board.set_gate(1, false);
  BOOST_TEST(board.next_state().blocked == 0x20);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
