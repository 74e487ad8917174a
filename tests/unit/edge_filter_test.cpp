// Edges to passages: bounce, the counter's wrap, a board that restarts, edges that went missing.
#include "tuning/edge_filter.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

constexpr double quiet_s = 0.02;

GateEdge edge(int gate, bool blocked, std::uint32_t counter_us, std::uint32_t epoch = 0) {
  GateEdge result;
  result.gate = gate;
  result.blocked = blocked;
  result.counter_us = counter_us;
  result.epoch = epoch;
  return result;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(edge_filter)

BOOST_AUTO_TEST_CASE(the_first_edge_after_quiet_is_the_passage) {
  EdgeFilter filter(2, quiet_s);
  const auto first = filter.feed(edge(0, true, 1'000'000));
  BOOST_REQUIRE(first);
  BOOST_TEST(first->gate == 0);
  BOOST_TEST(first->blocked);
  BOOST_TEST(!filter.feed(edge(0, false, 1'001'000)));
  BOOST_TEST(!filter.feed(edge(0, true, 1'002'500)));
  BOOST_TEST(filter.bounces() == 2u);
  const auto left = filter.feed(edge(0, false, 2'000'000));
  BOOST_REQUIRE(left);
  BOOST_TEST(!left->blocked);
  BOOST_TEST(left->at_s - first->at_s == 1.0, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(filter.missed() == 0u);
}

BOOST_AUTO_TEST_CASE(quiet_counts_from_the_last_bounce) {
  EdgeFilter filter(1, quiet_s);
  BOOST_TEST(filter.feed(edge(0, true, 0)).has_value());
  for (std::uint32_t at_us = 15'000; at_us <= 60'000; at_us += 15'000) {
    BOOST_TEST(!filter.feed(edge(0, at_us % 30'000 == 0, at_us)));  // each within 20 ms of the one before
  }
  BOOST_TEST(!filter.feed(edge(0, false, 79'999)));
  BOOST_TEST(filter.feed(edge(0, false, 100'100)).has_value());  // a little more than the quiet time later
}

BOOST_AUTO_TEST_CASE(what_leaves_the_beam_as_it_was_is_taken_back) {
  EdgeFilter filter(2, quiet_s);
  const auto flash = filter.feed(edge(0, true, 1'000'000));
  BOOST_REQUIRE(flash);
  BOOST_TEST(!filter.unchanged(0));  // it may be the engine
  BOOST_TEST(!filter.feed(edge(0, false, 1'000'400)));
  BOOST_REQUIRE(filter.unchanged(0));
  BOOST_TEST(filter.unchanged(0)->at_s == flash->at_s);
  BOOST_TEST(!filter.unchanged(1));
  BOOST_TEST(filter.feed(edge(1, true, 1'500'000)).has_value());
  BOOST_TEST(!filter.taken_back());  // of the other gate
  const auto engine = filter.feed(edge(0, true, 2'000'000));
  BOOST_REQUIRE(engine);
  BOOST_REQUIRE(filter.taken_back());
  BOOST_TEST(filter.taken_back()->at_s == flash->at_s);
  BOOST_TEST(filter.missed() == 0u);
  BOOST_TEST(!filter.feed(edge(0, false, 2'001'000)));
  BOOST_TEST(!filter.feed(edge(0, true, 2'002'000)));
  BOOST_TEST(!filter.unchanged(0));  // bounce of a true change
  BOOST_TEST(filter.most_bounces() == 2);
  BOOST_TEST(filter.longest_change_s() == 0.002, boost::test_tools::tolerance(1e-9));
  filter.forget_worst();
  BOOST_TEST(filter.most_bounces() == 0);
}

BOOST_AUTO_TEST_CASE(edges_that_the_board_lost_are_counted_by_epoch) {
  EdgeFilter filter(1, quiet_s);
  const auto lost = [&](std::uint32_t at_us, std::uint16_t count, std::uint32_t epoch) {
    GateEdge next = edge(0, true, at_us, epoch);
    next.lost = count;
    static_cast<void>(filter.feed(next));
    return filter.lost();
  };
  BOOST_TEST(lost(0, 65'530, 1) == 0u);  // before anybody looked
  BOOST_TEST(lost(1'000'000, 65'530, 1) == 0u);
  BOOST_TEST(lost(2'000'000, 4, 1) == 10u);  // it wraps at 2^16
  BOOST_TEST(lost(100, 0, 2) == 10u);        // the board has restarted
}

BOOST_AUTO_TEST_CASE(gates_do_not_disturb_each_other) {
  EdgeFilter filter(2, quiet_s);
  BOOST_TEST(filter.feed(edge(0, true, 1'000)).has_value());
  BOOST_TEST(filter.feed(edge(1, true, 2'000)).has_value());
  BOOST_TEST(filter.bounces() == 0u);
}

BOOST_AUTO_TEST_CASE(counter_wraps) {
  EdgeFilter filter(2, quiet_s);
  const auto before = filter.feed(edge(0, true, 0xFFFF'FF00U));
  const auto behind = filter.feed(edge(1, true, 0x0000'0100U));
  BOOST_REQUIRE((before && behind));
  BOOST_TEST(behind->at_s - before->at_s == 512e-6, boost::test_tools::tolerance(1e-6));  // 0x200 µs
  // Half an hour apart is the most that a signed difference spans (2^31 µs); a second wrap follows.
  const auto later = filter.feed(edge(0, false, 0x7000'0000U));
  const auto wrapped = filter.feed(edge(0, true, 0xE000'0000U));
  const auto again = filter.feed(edge(0, false, 0x1000'0000U));
  BOOST_REQUIRE((later && wrapped && again));
  BOOST_TEST(again->at_s - later->at_s == (0x1'1000'0000 - 0x7000'0000) * 1e-6, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(stamps_slightly_out_of_order_step_back) {
  EdgeFilter filter(2, quiet_s);
  const auto late = filter.feed(edge(0, true, 500'000));
  const auto early = filter.feed(edge(1, true, 499'000));
  BOOST_REQUIRE((late && early));
  BOOST_TEST(early->at_s - late->at_s == -0.001, boost::test_tools::tolerance(1e-9));
}

BOOST_AUTO_TEST_CASE(restart_of_the_board_begins_anew) {
  EdgeFilter filter(1, quiet_s);
  BOOST_TEST(filter.feed(edge(0, true, 5'000'000, 1)).has_value());
  const auto reborn = filter.feed(edge(0, true, 5'000'100, 2));  // would be bounce within one epoch
  BOOST_REQUIRE(reborn);
  BOOST_TEST(reborn->epoch == 2u);
  BOOST_TEST(reborn->at_s == 0.0);
  BOOST_TEST(filter.missed() == 0u);  // nobody knows what happened in between
  BOOST_TEST(filter.bounces() == 0u);
}

BOOST_AUTO_TEST_CASE(missing_counterparts_are_counted) {
  EdgeFilter filter(1, quiet_s);
  BOOST_TEST(filter.feed(edge(0, true, 0)).has_value());
  BOOST_TEST(filter.feed(edge(0, true, 1'000'000)).has_value());  // still news: the clear edge was lost
  BOOST_TEST(filter.missed() == 1u);
  BOOST_TEST(filter.feed(edge(0, false, 2'000'000)).has_value());
  BOOST_TEST(filter.missed() == 1u);
}

BOOST_AUTO_TEST_CASE(gates_that_do_not_exist_are_ignored) {
  EdgeFilter filter(2, quiet_s);
  BOOST_TEST(!filter.feed(edge(2, true, 0)));
  BOOST_TEST(!filter.feed(edge(-1, true, 0)));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
