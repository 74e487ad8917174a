// A chattering gate costs its own edges, counted, and nobody else's. Source of what is expected: PROTOCOL.md, `lost`.
#include <boost/test/unit_test.hpp>

#include "tests/firmware/gate_watch.h"

namespace lapwright::firmware {
namespace {

/// Toggles a gate again and again.
class Chatter {
 public:
  Chatter(VirtualBoard& board, GateWatch& watch, int gate, std::uint64_t every_us)
      : board_(board), watch_(watch), gate_(gate), every_us_(every_us) {}

  void begin() {
    if (stopped) return;
    watch_.toggle(gate_);
    board_.at(board_.cycle() + every_us_ * cycles_per_us, [this] { begin(); });
  }
  bool stopped = false;

 private:
  VirtualBoard& board_;
  GateWatch& watch_;
  int gate_;
  std::uint64_t every_us_;
};

BOOST_AUTO_TEST_SUITE(chatter)

BOOST_AUTO_TEST_CASE(what_the_queue_can_not_hold_is_counted) {
  VirtualBoard board(release_elf);
  boot(board);
  GateWatch watch(board);
  board.on_line = [&](const BoardLine& line) { watch.take(line); };
  for (int edge = 0; edge < 60; ++edge) {  // faster than they can be sent, slower than the board looks
    watch.toggle(2);
    board.run_us(300);
  }
  board.run_us(200'000);
  const State state = board.next_state();
  BOOST_TEST(watch.edges >= 12);
  BOOST_TEST(watch.edges < 30);
  BOOST_TEST(watch.edges + state.lost == watch.changes);
  BOOST_TEST(watch.unexplained == 0);
  const int before = watch.edges;
  watch.toggle(2);  // it is listened to again, and its next edge tells the loss
  board.run_us(20'000);
  BOOST_TEST(watch.edges == before + 1);
  BOOST_TEST(board.last('e')->hex(3) == state.lost);
}

BOOST_AUTO_TEST_CASE(an_edge_before_the_loss_does_not_tell_it_yet) {
  VirtualBoard board(release_elf);
  boot(board);
  GateWatch watch(board);
  std::vector<std::uint32_t> lost;
  board.on_line = [&](const BoardLine& line) {
    if (line.kind == 'e') lost.push_back(line.hex(3));
  };
  for (int edge = 0; edge < 40; ++edge) {
    watch.toggle(2);
    board.run_us(300);
  }
  board.run_us(100'000);
  BOOST_TEST_REQUIRE(lost.size() >= 12U);
  for (std::size_t place = 0; place < 12; ++place) BOOST_TEST(lost[place] == 0U);
}

BOOST_AUTO_TEST_CASE(a_burst_of_twelve_is_kept) {
  VirtualBoard board(release_elf);
  boot(board);
  GateWatch watch(board);
  board.on_line = [&](const BoardLine& line) { watch.take(line); };
  for (int burst = 0; burst < 10; ++burst) {
    board.send_line('I');  // its many lines come first: all twelve have to wait
    board.run_us(4'000);
    for (int edge = 0; edge < 12; ++edge) {
      watch.toggle(7);
      board.run_us(50);
    }
    board.run_us(60'000);
  }
  BOOST_TEST(watch.edges == 120);
  BOOST_TEST(watch.unexplained == 0);
  BOOST_TEST(board.next_state().lost == 0);
}

BOOST_AUTO_TEST_CASE(others_keep_their_edges_states_and_answers) {
  for (const std::uint64_t every_us : {2'000U, 500U, 50U, 13U}) {
    BOOST_TEST_CONTEXT("one gate toggles every " << every_us << " us") {
      VirtualBoard board(release_elf);
      boot(board);
      GateWatch noise(board), watch(board);
      const BoardLine* state = nullptr;
      double longest_state_ms = 0;
      std::uint64_t state_cycle = board.cycle();
      board.on_line = [&](const BoardLine& line) {
        if (line.kind == 'e') (line.number(0) == 3 ? noise : watch).take(line);
        if (line.kind != 's') return;
        longest_state_ms = std::max(longest_state_ms, ms_between(state_cycle, line.begun_cycle));
        state_cycle = line.begun_cycle;
        state = &line;
      };
      Chatter chatter(board, noise, 3, every_us);
      chatter.begin();
      double longest_answer_ms = 0;
      for (int round = 0; round < 20; ++round) {
        for (const int gate : {1, 8}) {
          watch.toggle(gate);
          board.run_us(23'000);
        }
        const std::uint64_t asked = board.cycle();
        BOOST_TEST(board.ask('L') == "ok");
        longest_answer_ms = std::max(longest_answer_ms, ms_between(asked, board.last('a')->ended_cycle));
      }
      BOOST_TEST(watch.edges == 40);
      BOOST_TEST(watch.unexplained == 0);
      BOOST_TEST(watch.longest_wait_ms < 60);
      BOOST_TEST(longest_answer_ms < 15);
      BOOST_TEST(longest_state_ms < 110);
      BOOST_TEST(noise.edges >= 60);
      BOOST_TEST(noise.edges <= 330);
      BOOST_TEST(noise.unexplained == 0);
      BOOST_TEST(board.next_state().lost > 100);
      BOOST_TEST(board.gaps == 0);
      BOOST_TEST(board.boots == 1);
      chatter.stopped = true;
      board.run_us(250'000);
      const int before = noise.edges;
      for (int edge = 0; edge < 3; ++edge) {
        noise.toggle(3);
        board.run_us(20'000);
      }
      BOOST_TEST(noise.edges == before + 3);
      BOOST_TEST(noise.unexplained == 0);
      BOOST_TEST(((board.next_state().blocked >> 2) & 1) == (board.gate_is_high(3) ? 1 : 0));
    }
  }
}

BOOST_AUTO_TEST_CASE(all_gates_at_once_share_the_line_and_safety_goes_on) {
  for (const std::uint64_t every_us : {1'000U, 37U, 5U}) {
    BOOST_TEST_CONTEXT("all gates toggle every " << every_us << " us") {
      VirtualBoard board(release_elf);
      boot(board);
      GateWatch watch(board);
      board.on_line = [&](const BoardLine& line) { watch.take(line); };
      BOOST_TEST(energise(board));
      const std::uint64_t leased = board.cycle();
      std::deque<Chatter> chatters;
      for (int gate = 1; gate <= 8; ++gate) {
        Chatter& chatter = chatters.emplace_back(board, watch, gate, every_us);
        board.at(board.cycle() + static_cast<std::uint64_t>(gate) * 11, [&chatter] { chatter.begin(); });
      }
      board.run_us(1'000'000);
      const int bad = board.next_state().bad;
      for (int asked = 0; asked < 100; ++asked) BOOST_TEST(board.ask('Q') == "what");
      BOOST_TEST(board.next_state().bad == bad);
      BOOST_TEST(!board.relay_closed());
      const double lasted_ms = ms_between(leased, board.relay_changes.back().cycle);
      BOOST_TEST((lasted_ms > 380 && lasted_ms < 402), lasted_ms);
      BOOST_TEST(board.ask('C') == "ok");
      BOOST_TEST(energise(board));
      board.set_current_mA(2500);
      const std::uint64_t over = board.cycle();
      board.run_us(5'000);
      BOOST_TEST(ms_between(over, board.relay_changes.back().cycle) < 2);
      BOOST_TEST(board.next_state().lost > 0);
      const auto [least, most] = std::minmax_element(watch.edges_of.begin(), watch.edges_of.end());
      BOOST_TEST(*least > 10);
      BOOST_TEST(*most <= 3 * *least);
      BOOST_TEST(watch.unexplained == 0);
      BOOST_TEST(board.gaps == 0);
      BOOST_TEST(board.boots == 1);
      for (Chatter& chatter : chatters) chatter.stopped = true;
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::firmware
