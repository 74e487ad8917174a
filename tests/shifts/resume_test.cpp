// A tune that is broken off goes on where it was: it decides as it would have, and measures nothing again that was
// proved.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <set>
#include <span>

#include "drivers/simulated/random.h"
#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

using CellName = std::pair<int, Direction>;

std::set<CellName> proved_of(const std::vector<CellResult>& cells) {
  std::set<CellName> result;
  for (const CellResult& cell : cells) {
    if (cell.verdict == Verdict::proved) result.emplace(cell.step, cell.direction);
  }
  return result;
}

int passes_of(const std::set<CellName>& cells, std::span<const Heard> heard) {
  int count = 0;
  for (const Heard& each : heard) {
    const auto* const pass = std::get_if<Passed>(&each.what);
    if (pass != nullptr && cells.contains({pass->step, pass->direction})) ++count;
  }
  return count;
}

void check_no_remark_of_a_misfit(const Night& night) {
  for (const std::string& remark : night.result().remarks) {
    BOOST_TEST(remark.find("did not fit") == std::string::npos, remark);
  }
}

constexpr double away_s = 30;

}  // namespace

BOOST_AUTO_TEST_SUITE(resume)

BOOST_AUTO_TEST_CASE(after_any_break_it_comes_to_its_end_and_proves_nothing_twice) {
  Night whole(loop_night(plain_engine(), 3));
  whole.tune();
  const double length_s = whole.result().track_s;
  const std::size_t proved = proved_of(whole.result().cells).size();
  BOOST_REQUIRE(proved > 50U);
  simulated::Random random(77);
  const int breaks = slow_run() ? 3 : 24;
  int again = 0;
  for (int i = 0; i < breaks; ++i) {
    const double at_s = (i + random.uniform()) / breaks * length_s;
    BOOST_TEST_CONTEXT("broken off after " << at_s << " s") {
      Night night(loop_night(plain_engine(), 3));
      BOOST_REQUIRE(night.tune_and_cancel(at_s));
      const std::size_t heard = night.diary().heard_of_track.size();
      const std::set<CellName> before = proved_of(night.diary().verdicts);
      night.lose_power(away_s);
      night.remember(away_s);
      night.tune();
      BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
      BOOST_TEST(proved_of(night.result().cells).size() >= proved - 2);
      BOOST_TEST(tally(night).worst_error < far_error);
      check_no_remark_of_a_misfit(night);
      again += passes_of(before, std::span(night.diary().heard_of_track).subspan(heard));
      night.settle();
      check_left_in_order(night);
      // What was lost: the pass under way, and at most a lap back to the gates, slow where the engine is not known yet.
      BOOST_TEST(night.result().track_s < length_s + (at_s < 60 ? 260 : 120));
    }
  }
  BOOST_TEST(again == 0);
}

// The transcript alone brings it to its end: the engine is run no more, and every verdict is the same.
BOOST_AUTO_TEST_CASE(the_same_story_gives_the_same_verdicts) {
  for (const std::uint64_t seed : seeds(11, 3)) {
    Night night(loop_night(from_shed("fellbeck"), seed));
    night.tune();
    const TuneResult first = night.result();
    const std::size_t heard = night.diary().heard_of_track.size();
    night.remember(0);
    night.tune();
    BOOST_TEST(night.diary().heard_of_track.size() == heard + 1);  // it was looked for, to write the table's end
    BOOST_TEST((night.result().settings == first.settings));
    BOOST_REQUIRE(night.result().cells.size() == first.cells.size());
    for (std::size_t i = 0; i < first.cells.size(); ++i) {
      BOOST_TEST((night.result().cells[i].verdict == first.cells[i].verdict));
      BOOST_TEST(night.result().cells[i].speed_mm_s == first.cells[i].speed_mm_s);
    }
    BOOST_TEST(night.result().passes == first.passes);
  }
}

BOOST_AUTO_TEST_CASE(broken_off_again_and_again) {
  Night night(loop_night(plain_engine(), 4));
  int breaks = 0;
  while (night.tune_and_cancel(160)) {
    ++breaks;
    BOOST_REQUIRE(breaks < 40);
    night.lose_power(away_s);
    night.remember(away_s);
  }
  night.remember(0);
  night.tune();
  BOOST_TEST(breaks > 1);
  BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
  BOOST_TEST(tally(night).worst_error < far_error);
  check_no_remark_of_a_misfit(night);
}

// Another engine of the same build, in the same state as the first was in the box, and set down the other way round.
BOOST_AUTO_TEST_CASE(turned_round_meanwhile) {
  Night night(loop_night(plain_engine(), 5));
  BOOST_REQUIRE(night.tune_and_cancel(100));
  Plan plan = loop_night(plain_engine(), 5);
  std::swap(plan.order.trap.low_gate, plan.order.trap.high_gate);
  Night turned(std::move(plan));
  turned.go_on_from(night.diary().heard_of_track);
  turned.tune();
  BOOST_TEST((turned.result().end == TuneEnd::complete), turned.result().detail);
  BOOST_TEST(tally(turned).worst_error < far_error);
  const std::vector<std::string>& remarks = turned.result().remarks;
  BOOST_TEST(std::count_if(remarks.begin(), remarks.end(), [](const std::string& remark) {
               return remark.find("turned round meanwhile") != std::string::npos;
             }) == 1);
  turned.settle();
  check_left_in_order(turned);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
