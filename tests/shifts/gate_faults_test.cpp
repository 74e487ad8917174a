// Bad gates: missed and doubled edges, stamps with milliseconds of jitter. The work takes longer, not wronger.
#include <boost/test/unit_test.hpp>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

void check_bad_gates(Plan plan, Tally& sum) {
  Night night(std::move(plan));
  night.tune();
  BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
  BOOST_TEST(night.result().track_s < 3600);
  sum += tally(night);
  for (const CellResult& cell : night.result().cells) {  // nothing is given up because an edge was missing
    if (cell.verdict == Verdict::best_attainable) BOOST_TEST(!clearly_better(night, cell), "step " << cell.step);
  }
  night.settle();
  check_lent_put_back(night);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(gate_faults)

BOOST_AUTO_TEST_CASE(missed_and_doubled_edges) {
  Tally sum;
  const auto nights = seeds(701, 4);
  for (const std::uint64_t seed : nights) {
    BOOST_TEST_CONTEXT("carrow_moss, 3 % missed, 5 % doubled, seed " << seed) {
      Plan plan = loop_night(from_shed("carrow_moss"), seed);
      plan.railway.board.miss = 0.03;
      plan.railway.board.twin = 0.05;
      check_bad_gates(std::move(plan), sum);
    }
  }
  BOOST_TEST(sum.proved >= 0.9 * 56 * static_cast<double>(nights.size()));
  BOOST_TEST(sum.attainable_missed <= static_cast<int>(nights.size()));
  BOOST_TEST(sum.worst_error < far_error);
}

BOOST_AUTO_TEST_CASE(stamps_of_five_milliseconds) {
  Tally sum;
  const auto nights = seeds(711, 3);
  for (const std::uint64_t seed : nights) {
    BOOST_TEST_CONTEXT("fellbeck, 5 ms stamps, seed " << seed) {
      Plan plan = loop_night(from_shed("fellbeck"), seed);
      plan.railway.board.stamp_error_s = 0.005;
      plan.order.track = simulated::as_told(plan.railway);
      check_bad_gates(std::move(plan), sum);
    }
  }
  BOOST_TEST(sum.proved >= 0.9 * 56 * static_cast<double>(nights.size()));
  BOOST_TEST(sum.best_attainable == 0);  // nothing is given up because a stamp was late
  BOOST_TEST(sum.attainable_missed <= static_cast<int>(nights.size()));
  BOOST_TEST(sum.worst_error < far_error);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
