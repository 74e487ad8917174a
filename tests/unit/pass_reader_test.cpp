// Passages to passes: the same engine end at both gates, whatever the body looks like and whatever edges are astray.
#include "tuning/pass_reader.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

constexpr double expected_mm_s = 50;
const Trap trap_150{0, 1, 150, 0.28};  // 3 s at the expected speed

PassReader reader_for(Direction direction, bool has_openings = false) {
  return PassReader(trap_150, direction, expected_mm_s, has_openings);
}

Passage at(int gate, bool blocked, double at_s, std::uint32_t epoch = 0) { return Passage{gate, blocked, at_s, epoch}; }

}  // namespace

BOOST_AUTO_TEST_SUITE(pass_reader)

BOOST_AUTO_TEST_CASE(forward_end_comes_into_both_beams) {
  PassReader reader = reader_for(Direction::forward);
  reader.feed(at(0, true, 10));
  BOOST_TEST(reader.entered());
  BOOST_TEST(!reader.complete());
  BOOST_TEST(!reader.elapsed_s());
  reader.feed(at(1, true, 13.1));
  BOOST_TEST(reader.complete());
  BOOST_TEST(*reader.elapsed_s() == 3.1, boost::test_tools::tolerance(1e-12));
  reader.feed(at(0, false, 13.6));  // the other end follows
  reader.feed(at(1, false, 16.7));
  BOOST_TEST(*reader.elapsed_s() == 3.1, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(reader.doubt_s() == 0.0);
}

BOOST_AUTO_TEST_CASE(a_flash_is_taken_back) {
  PassReader reader = reader_for(Direction::forward);
  reader.feed(at(0, true, 9));
  BOOST_TEST(reader.entered());
  reader.take_back(at(0, true, 9));
  BOOST_TEST(!reader.entered());
  reader.feed(at(0, true, 10));
  reader.feed(at(1, true, 12.4));
  BOOST_TEST(reader.complete());
  reader.take_back(at(1, true, 12.4));
  BOOST_TEST(reader.entered());
  BOOST_TEST(!reader.complete());
  reader.feed(at(1, true, 13.1));
  BOOST_TEST(*reader.elapsed_s() == 3.1, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(reader.seen_alike(0.01));  // both flashes came 35 mm before the engine or more
}

BOOST_AUTO_TEST_CASE(both_gates_have_to_see_the_same) {
  const auto read = [](const std::vector<Passage>& passages) {
    PassReader reader = reader_for(Direction::forward, true);
    for (const Passage& passage : passages) reader.feed(passage);
    return reader.seen_alike(0.01);
  };
  BOOST_TEST(read({at(0, true, 10), at(1, true, 13)}));
  // A coupler at both, 4 mm and 0.08 s long, and what comes later is not compared: nobody may have waited for it.
  BOOST_TEST(read({at(0, true, 10), at(0, false, 10.08), at(0, true, 10.5), at(1, true, 13), at(1, false, 13.085)}));
  BOOST_TEST(!read({at(0, true, 10), at(0, false, 10.05), at(1, true, 13)}));
  BOOST_TEST(!read({at(0, true, 10), at(1, true, 13), at(1, false, 13.05)}));
  // Something sways in the beam before the engine's head comes.
  BOOST_TEST(!read({at(0, true, 10), at(1, true, 13), at(1, false, 13.05), at(1, true, 13.3)}));
  // Alike, but thinner than any part of an engine: light that falls into both.
  BOOST_TEST(!read({at(0, true, 10), at(0, false, 10.025), at(0, true, 10.05), at(1, true, 13), at(1, false, 13.025),
                    at(1, true, 13.05)}));
}

BOOST_AUTO_TEST_CASE(a_gate_that_never_rests) {
  PassReader reader = reader_for(Direction::forward);
  double at_s = 10;
  for (int change = 0; change < 24; ++change) reader.feed(at(0, change % 2 == 0, at_s += 0.5));
  BOOST_TEST(!reader.restless());
  reader.feed(at(1, true, at_s));
  BOOST_TEST(!reader.restless());  // that is the other gate
  reader.feed(at(0, true, at_s += 0.5));
  BOOST_TEST(reader.restless());
}

BOOST_AUTO_TEST_CASE(reverse_the_forward_end_leaves_both_beams) {
  PassReader reader = reader_for(Direction::reverse);
  reader.feed(at(1, true, 0));  // the rear end comes in first
  reader.feed(at(0, true, 3));  // … and is not what counts
  reader.feed(at(1, false, 3.6));
  BOOST_TEST(reader.entered());
  BOOST_TEST(!reader.complete());
  reader.feed(at(0, false, 6.5));
  BOOST_TEST(reader.complete());
  BOOST_TEST(*reader.elapsed_s() == 2.9, boost::test_tools::tolerance(1e-12));
}

BOOST_AUTO_TEST_CASE(openings_forward_the_first_edge_counts) {
  PassReader reader = reader_for(Direction::forward, true);
  reader.feed(at(0, true, 0));  // coupler
  reader.feed(at(0, false, 0.1));
  reader.feed(at(0, true, 0.3));  // body, 10 mm behind an opening
  reader.feed(at(1, true, 3));
  reader.feed(at(1, false, 3.1));
  reader.feed(at(1, true, 3.3));
  BOOST_TEST(*reader.elapsed_s() == 3.0, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(reader.doubt_s() == 0.0);
  BOOST_TEST(reader.opening_seen_mm() == 10.0, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(openings_in_reverse_the_last_edge_counts) {
  PassReader reader = reader_for(Direction::reverse, true);
  reader.feed(at(1, false, 0));  // the body has left, the coupler follows
  BOOST_TEST(reader.entered());
  reader.feed(at(1, true, 0.2));
  BOOST_TEST(!reader.entered());
  reader.feed(at(1, false, 0.3));
  reader.feed(at(0, false, 3.0));
  BOOST_TEST(reader.complete());
  reader.feed(at(0, true, 3.2));
  BOOST_TEST(!reader.complete());  // what seemed the end was an opening
  reader.feed(at(0, false, 3.3));
  BOOST_TEST(reader.complete());
  BOOST_TEST(*reader.elapsed_s() == 3.0, boost::test_tools::tolerance(1e-12));
}

BOOST_AUTO_TEST_CASE(doubled_edges_leave_a_doubt) {
  PassReader forward = reader_for(Direction::forward);
  forward.feed(at(0, true, 0));
  forward.feed(at(0, false, 0.02));
  forward.feed(at(0, true, 0.05));
  BOOST_TEST(forward.doubt_s() == 0.05, boost::test_tools::tolerance(1e-9));
  forward.feed(at(1, true, 3));
  forward.feed(at(1, true, 3.06));
  BOOST_TEST(forward.doubt_s() == 0.11, boost::test_tools::tolerance(1e-9));

  PassReader reverse = reader_for(Direction::reverse);
  reverse.feed(at(1, false, 0));
  reverse.feed(at(1, true, 0.03));
  reverse.feed(at(1, false, 0.07));
  BOOST_TEST(reverse.entered());
  BOOST_TEST(reverse.doubt_s() == 0.07, boost::test_tools::tolerance(1e-9));

  PassReader far_apart = reader_for(Direction::forward);  // a fifth of a second later it is no double
  far_apart.feed(at(0, true, 0));
  far_apart.feed(at(0, true, 0.5));
  BOOST_TEST(far_apart.doubt_s() == 0.0);
}

BOOST_AUTO_TEST_CASE(edges_too_early_to_be_true_are_ignored) {
  PassReader reader = reader_for(Direction::forward);
  reader.feed(at(0, true, 0));
  reader.feed(at(1, true, 1.4));  // twice as fast as expected would be 1.5 s
  BOOST_TEST(!reader.complete());
  reader.feed(at(1, true, 2.9));
  BOOST_TEST(*reader.elapsed_s() == 2.9, boost::test_tools::tolerance(1e-12));
}

BOOST_AUTO_TEST_CASE(entry_missed) {
  PassReader forward = reader_for(Direction::forward);
  forward.feed(at(1, true, 3));
  BOOST_TEST(forward.entry_missed());
  BOOST_TEST(!forward.complete());

  PassReader other_end = reader_for(Direction::forward);
  other_end.feed(at(1, false, 3));  // somebody's rear end: nothing to do with this pass
  BOOST_TEST(!other_end.entry_missed());
}

BOOST_AUTO_TEST_CASE(an_opening_at_the_exit_is_no_missed_entry) {
  PassReader closed = reader_for(Direction::reverse);
  closed.feed(at(0, false, 1));  // the exit gate sees a clear beam before the entry gate has seen the end
  BOOST_TEST(closed.entry_missed());
  closed.feed(at(0, true, 1.2));  // 10 mm later it is blocked again
  BOOST_TEST(!closed.entry_missed());
  closed.feed(at(1, false, 2));
  closed.feed(at(0, false, 5));
  BOOST_TEST(*closed.elapsed_s() == 3.0, boost::test_tools::tolerance(1e-12));
  PassReader passed = reader_for(Direction::reverse);
  passed.feed(at(0, false, 1));
  passed.feed(at(1, false, 1.1));  // the end is only at the entry gate
  BOOST_TEST(passed.entered());
  BOOST_TEST(!passed.entry_missed());
}

BOOST_AUTO_TEST_CASE(stamps_of_different_epochs_are_never_subtracted) {
  PassReader reader = reader_for(Direction::forward);
  reader.feed(at(0, true, 100, 1));
  reader.feed(at(1, true, 103, 2));
  BOOST_TEST(!reader.complete());
  BOOST_TEST(!reader.entered());
}

BOOST_AUTO_TEST_CASE(laps_show_openings_too) {
  const Trap lap{0, 0, 3000, 0};
  PassReader reader(lap, Direction::forward, expected_mm_s, false);
  reader.feed(at(0, true, 10));
  reader.feed(at(0, false, 14));
  reader.feed(at(0, true, 14.2));  // 10 mm
  BOOST_TEST(reader.opening_seen_mm() == 10.0, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(laps) {
  const Trap lap{0, 0, 1200, 5};  // 24 s at the expected speed
  PassReader reader(lap, Direction::forward, expected_mm_s, false);
  reader.feed(at(1, true, 0));  // another gate is nothing here
  BOOST_TEST(!reader.entered());
  reader.feed(at(0, true, 10));
  reader.feed(at(0, false, 13.6));
  BOOST_TEST(!reader.complete());
  reader.feed(at(0, true, 33.5));
  BOOST_TEST(reader.complete());
  BOOST_TEST(*reader.elapsed_s() == 23.5, boost::test_tools::tolerance(1e-12));

  PassReader reverse(lap, Direction::reverse, expected_mm_s, false);
  reverse.feed(at(0, true, 0));
  reverse.feed(at(0, false, 3.6));
  reverse.feed(at(0, true, 24));
  BOOST_TEST(!reverse.complete());
  reverse.feed(at(0, false, 27.8));
  BOOST_TEST(*reverse.elapsed_s() == 24.2, boost::test_tools::tolerance(1e-12));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
