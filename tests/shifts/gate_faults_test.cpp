// Bad gates: missed and doubled edges, stamps with milliseconds of jitter. The work takes longer, not wronger.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <variant>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

/// Who has gates that do not see alike is told so; of sound ones nothing is said.
int told_of_gates(const Night& night) {
  int spoilt = 0;
  for (const Heard& heard : night.diary().heard_of_track) {
    const Passed* const pass = std::get_if<Passed>(&heard.what);
    if (pass != nullptr && pass->reading.trouble == PassTrouble::noise) ++spoilt;
  }
  const std::string wanted = std::to_string(spoilt) + " passes were not used, because the two gates did not see";
  const auto& remarks = night.result().remarks;
  const bool told =
      std::any_of(remarks.begin(), remarks.end(), [&](const std::string& remark) { return remark.find(wanted) == 0; });
  BOOST_TEST(told == (spoilt >= 3), spoilt << " passes spoilt");
  return spoilt;
}

void check_bad_gates(Plan plan, Tally& sum) {
  Night night(std::move(plan));
  night.tune();
  static_cast<void>(told_of_gates(night));
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

BOOST_AUTO_TEST_CASE(gates_that_do_not_see_alike_are_told_of) {
  Plan sound = loop_night(from_shed("tarn_lady"), 721);
  Night quiet(std::move(sound));
  quiet.tune();
  BOOST_TEST(told_of_gates(quiet) < 3);
  Plan plan = loop_night(from_shed("tarn_lady"), 721);
  plan.railway.board.twin = 0.4;
  Night restless(std::move(plan));
  restless.tune();
  BOOST_TEST(told_of_gates(restless) >= 3);
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
