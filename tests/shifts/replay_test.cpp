// The same seed gives the same night, to the last packet; another seed gives another.
#include <boost/test/unit_test.hpp>

#include "tests/shifts/night.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

bool same(const CellResult& a, const CellResult& b) {
  return a.step == b.step && a.direction == b.direction && a.target_mm_s == b.target_mm_s &&
         a.tolerance_mm_s == b.tolerance_mm_s && a.speed_mm_s == b.speed_mm_s &&
         a.half_width_mm_s == b.half_width_mm_s && a.passes == b.passes && a.verdict == b.verdict &&
         a.shortfall == b.shortfall;
}

void check_same(const TuneResult& a, const TuneResult& b) {
  BOOST_TEST((a.end == b.end));
  BOOST_TEST(a.detail == b.detail);
  BOOST_TEST((a.traits.trims_act == b.traits.trims_act && a.traits.table_scaled == b.traits.table_scaled &&
              a.traits.table_enabled == b.traits.table_enabled));
  BOOST_TEST((a.settings == b.settings));
  BOOST_TEST(a.cells.size() == b.cells.size());
  for (std::size_t i = 0; i < std::min(a.cells.size(), b.cells.size()); ++i) {
    BOOST_TEST(same(a.cells[i], b.cells[i]), "cell " << i << " differs");
  }
  BOOST_TEST((a.remarks == b.remarks));
  BOOST_TEST(a.track_s == b.track_s);  // exact: the same arithmetic in the same order
  BOOST_TEST(a.passes == b.passes);
  BOOST_TEST(a.rejected == b.rejected);
  BOOST_TEST(a.writes == b.writes);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(replay)

BOOST_AUTO_TEST_CASE(the_same_seed_the_same_night) {
  Plan plan = loop_night(from_shed("tarn_lady"), 951);
  plan.railway.board.miss = 0.02;  // luck in every corner
  plan.railway.board.twin = 0.02;
  Night one(plan);
  Night other(plan);
  one.tune();
  other.tune();
  check_same(one.result(), other.result());
  BOOST_TEST(one.rig().packets() == other.rig().packets());
  BOOST_TEST(one.rig().cv_writes() == other.rig().cv_writes());
  BOOST_TEST(one.rig().distance_mm() == other.rig().distance_mm());

  plan.seed = 952;
  Night third(plan);
  third.tune();
  BOOST_TEST(third.result().track_s != one.result().track_s);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
