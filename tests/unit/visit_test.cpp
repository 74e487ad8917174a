// A whole engine passing the trap: what head and tail tell together, and that missing edges are noticed.
#include "tuning/visit.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <vector>

namespace lapwright {
namespace {

constexpr double speed_mm_s = 50;
constexpr double engine_mm = 200;
constexpr double base_mm = 150;

Trap trap() {
  Trap result;
  result.low_gate = 0;
  result.high_gate = 1;
  result.base_mm = base_mm;
  return result;
}

/// Low gate first; an opening of 8 mm in the middle of the engine.
std::vector<Passage> edges(bool low_first = true) {
  std::vector<Passage> result;
  for (const int gate : {0, 1}) {
    const double begins_s = (gate == 0) == low_first ? 0 : base_mm / speed_mm_s;
    const double opening_s = begins_s + 96 / speed_mm_s;
    result.push_back(Passage{gate, true, begins_s, 1});
    result.push_back(Passage{gate, false, opening_s, 1});
    result.push_back(Passage{gate, true, opening_s + 8 / speed_mm_s, 1});
    result.push_back(Passage{gate, false, begins_s + engine_mm / speed_mm_s, 1});
  }
  std::sort(result.begin(), result.end(), [](const Passage& a, const Passage& b) { return a.at_s < b.at_s; });
  return result;
}

Visit visit(const std::vector<Passage>& seen) {
  Visit result(trap());
  for (const Passage& passage : seen) result.feed(passage);
  return result;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(visit_to_the_trap)

BOOST_AUTO_TEST_CASE(speed_and_facing) {
  for (const bool low_first : {true, false}) {
    const auto finding = visit(edges(low_first)).finding();
    BOOST_REQUIRE(finding);
    BOOST_TEST(std::abs(finding->speed_mm_s - speed_mm_s) < 1e-9);
    BOOST_TEST(finding->low_came_first == low_first);
    BOOST_TEST(finding->head_at_s == base_mm / speed_mm_s);
  }
}

BOOST_AUTO_TEST_CASE(no_single_missing_edge_makes_a_wrong_speed) {
  const std::vector<Passage> all = edges();
  int noticed = 0;
  for (std::size_t missing = 0; missing < all.size(); ++missing) {
    std::vector<Passage> seen = all;
    seen.erase(seen.begin() + static_cast<std::ptrdiff_t>(missing));
    const auto finding = visit(seen).finding();
    if (!finding) {
      ++noticed;
      continue;
    }
    BOOST_TEST(std::abs(finding->speed_mm_s - speed_mm_s) < 1e-9, "edge " << missing << " missing");
  }
  BOOST_TEST(noticed == 4);  // heads and tails; the opening's edges do not matter
}

BOOST_AUTO_TEST_CASE(not_over_while_a_beam_is_blocked) {
  const std::vector<Passage> all = edges();
  Visit half(trap());
  BOOST_TEST(!half.begun());
  half.feed(all.front());
  const double while_blocked_s = half.quiet_s();
  const double gone_s = visit(all).quiet_s();
  BOOST_TEST(while_blocked_s > 10 * base_mm / speed_mm_s);
  BOOST_TEST(gone_s > all.back().at_s - all.front().at_s);
  BOOST_TEST(gone_s < 2 * (all.back().at_s - all.front().at_s));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
