// What a beam's edges are taken for: an engine that comes, its next part, or noise. Times are invented.
#include "drivers/safety/gate_watch.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

struct Beams {
  std::optional<GatePassage> edge(int gate, bool blocked, double s) {
    const auto counter_us = static_cast<std::uint32_t>(s * 1e6);
    return watch.edge(GateEdge{gate, blocked, counter_us, 1, Instant{} + seconds(s)});
  }
  /// Interrupted from then to then.
  std::optional<GatePassage> part(double from_s, double to_s) {
    BOOST_TEST(!edge(0, true, from_s).has_value());
    return edge(0, false, to_s);
  }
  GateWatch watch{2, 0.02};
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(gate_watch, Beams)

BOOST_AUTO_TEST_CASE(the_first_of_all_is_an_engine) {
  const auto found = part(1, 3);
  BOOST_REQUIRE(found.has_value());
  BOOST_TEST(found->fresh);
  BOOST_TEST(!found->flickers);
}

// The next part of an engine comes sooner than the one before it took.
BOOST_AUTO_TEST_CASE(a_short_gap_is_an_opening_and_a_long_one_the_next_engine) {
  BOOST_TEST(part(1, 3).value().fresh);
  BOOST_TEST(!part(3.5, 4.5).value().fresh);
  BOOST_TEST(part(5.6, 6.6).value().fresh);
}

BOOST_AUTO_TEST_CASE(who_turns_round_comes_back_as_an_engine) {
  BOOST_TEST(part(1, 3).value().fresh);
  watch.turned();
  BOOST_TEST(part(3.1, 4).value().fresh);
  BOOST_TEST(!part(4.1, 5).value().fresh);  // that was for the one time
}

BOOST_AUTO_TEST_CASE(what_is_shorter_than_a_bounce_has_not_been) {
  BOOST_TEST(!part(1, 1.01).has_value());
  BOOST_TEST(part(2, 4).value().fresh);
  BOOST_TEST(!part(4.005, 4.01).has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
