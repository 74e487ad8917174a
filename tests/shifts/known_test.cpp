// An engine that was tuned before: what it has left proves its table with few passes, and a tune that has to follow
// goes on from them.
#include <algorithm>
#include <boost/test/unit_test.hpp>

#include "drivers/simulated/random.h"
#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

const std::vector<int> spread = {7, 14, 21, 28};

EarlierSession session_of(const TuneResult& tuned) {
  EarlierSession earlier;
  earlier.settings = tuned.settings;
  earlier.traits = tuned.traits;
  earlier.scales = tuned.scales.value();
  earlier.response = tuned.response;
  for (Observation& pass : earlier.response.passes) ++pass.sessions_ago;
  return earlier;
}

/// A first tune, and what another evening knows of it.
struct Tuned {
  explicit Tuned(std::uint64_t with_seed) : seed(with_seed), first(loop_night(plain_engine(), with_seed)) {
    first.tune();
    BOOST_REQUIRE((first.result().end == TuneEnd::complete));
  }
  std::uint64_t seed;
  Night first;
};

/// @param faster  share of its speed by which the engine has changed since
Plan changed(const Tuned& tuned, double faster) {
  Plan plan = loop_night(plain_engine(), tuned.seed);
  plan.engine.motor.top_speed_mm_s *= 1 + faster;
  plan.order.earlier = session_of(tuned.first.result());
  return plan;
}

struct AnotherEvening : Night {
  AnotherEvening(Tuned& tuned, double faster) : Night(changed(tuned, faster)) { take_decoder_of(tuned.first); }
};

std::ptrdiff_t proved(const TuneResult& result) {
  return std::ranges::count(result.cells, Verdict::proved, &CellResult::verdict);
}

void check_every_pass_fits(const Night& night) {
  for (const std::string& remark : night.result().remarks) {
    BOOST_TEST(remark.find("did not fit") == std::string::npos, remark);
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(known_engines)

BOOST_AUTO_TEST_CASE(one_pass_each_proves_that_nothing_has_changed) {
  for (const std::uint64_t seed : seeds(21, 3)) {
    Tuned tuned(seed);
    AnotherEvening night(tuned, 0);
    night.prove(spread);
    BOOST_TEST(proved(night.result()) == 8);
    BOOST_TEST(night.result().passes <= 10);
    BOOST_TEST(tally(night).false_accepts == 0);
  }
}

// By one and a half tolerances, and the other way.
BOOST_AUTO_TEST_CASE(an_engine_that_has_changed_is_noticed) {
  for (const double faster : {0.03, -0.03, 0.15}) {
    Tuned tuned(24);
    AnotherEvening night(tuned, faster);
    night.prove(spread);
    BOOST_TEST(std::ranges::count(night.result().cells, Verdict::failed, &CellResult::verdict) > 0);
    BOOST_TEST(tally(night).false_accepts == 0);
  }
}

BOOST_AUTO_TEST_CASE(one_entry_that_was_written_wrongly_is_noticed) {
  for (const int step : spread) {
    Tuned tuned(25);
    const int entry = cv::table_entry(step);
    AnotherEvening night(tuned, 0);
    const int value = night.cv(entry);
    int wrong = value;  // the nearest that brings the step out of tolerance
    while (std::abs(night.true_speed_with(wrong, step, Direction::forward) /
                        tuned.first.true_speed_mm_s(step, Direction::forward) -
                    1) < 0.045)
      ++wrong;
    night.rig().decoder().set_cv(entry, static_cast<std::uint8_t>(wrong));
    night.prove(spread);
    BOOST_TEST(proved(night.result()) < 8, "step " << step << ": " << wrong << " for " << value);
    BOOST_TEST(tally(night).false_accepts == 0);
  }
}

BOOST_AUTO_TEST_CASE(a_tune_goes_on_from_what_is_known) {
  for (const std::uint64_t seed : seeds(26, 2)) {
    Tuned tuned(seed);
    const double first_s = tuned.first.result().track_s;
    AnotherEvening night(tuned, 0.03);
    night.prove(spread);
    BOOST_REQUIRE(night.result().left.has_value());
    const double proof_s = night.result().track_s;
    night.tune();
    BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
    BOOST_TEST(proved(night.result()) >= proved(tuned.first.result()) - 4);
    BOOST_TEST(tally(night).worst_error < far_error);
    BOOST_TEST(proof_s + night.result().track_s < 0.9 * first_s);
    night.settle();
    check_left_in_order(night);
  }
}

// Set down the other way round, on a shuttle, and where laps are timed.
BOOST_AUTO_TEST_CASE(on_every_track_and_either_way_round) {
  Plan turned = loop_night(plain_engine(), 27);
  std::swap(turned.order.trap.low_gate, turned.order.trap.high_gate);
  for (const Plan& here : {turned, shuttle_night(plain_engine(), 27), lap_night(plain_engine(), 27)}) {
    BOOST_TEST_CONTEXT((here.order.trap.times_laps()                 ? "laps"
                        : here.order.track.shape == TrackShape::loop ? "turned"
                                                                     : "shuttle")) {
      Night first(here);
      first.tune();
      BOOST_REQUIRE_MESSAGE((first.result().end == TuneEnd::complete), first.result().detail);
      Plan plan = here;
      plan.order.earlier = session_of(first.result());
      Night same(plan);
      same.take_decoder_of(first);
      same.prove(spread);
      BOOST_TEST(proved(same.result()) == 8);
      plan.engine.motor.top_speed_mm_s *= 1.03;
      Night other(plan);
      other.take_decoder_of(first);
      other.prove(spread);
      BOOST_TEST(proved(other.result()) < 8);
      BOOST_REQUIRE(other.result().left.has_value());
      BOOST_TEST(other.result().left->low_came_first == (here.order.trap.low_gate == 0));
      other.tune();
      BOOST_TEST((other.result().end == TuneEnd::complete), other.result().detail);
      BOOST_TEST(tally(other).worst_error < far_error);
      BOOST_TEST(other.rig().buffer_hits() == 0U);
    }
  }
}

BOOST_AUTO_TEST_CASE(broken_off_it_goes_on_from_there) {
  Tuned tuned(28);
  AnotherEvening whole(tuned, 0.03);
  whole.prove(spread);
  whole.tune();
  const double length_s = whole.result().track_s;
  simulated::Random random(78);
  const int breaks = slow_run() ? 2 : 8;
  for (int i = 0; i < breaks; ++i) {
    const double at_s = (i + random.uniform()) / breaks * length_s;
    BOOST_TEST_CONTEXT("broken off after " << at_s << " s") {
      AnotherEvening night(tuned, 0.03);
      night.prove(spread);
      BOOST_REQUIRE(night.tune_and_cancel(at_s));
      night.lose_power(30);
      night.remember(30);
      night.tune();
      BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
      BOOST_TEST(proved(night.result()) >= proved(whole.result()) - 7);  // it has cooled
      BOOST_TEST(tally(night).worst_error < far_error);
      check_every_pass_fits(night);
      night.settle();
      check_left_in_order(night);
    }
  }
}

BOOST_AUTO_TEST_CASE(its_story_gives_the_same_verdicts) {
  Tuned tuned(29);
  AnotherEvening night(tuned, -0.03);
  night.prove(spread);
  night.tune();
  const TuneResult once = night.result();
  night.remember(0);
  night.tune();
  BOOST_TEST((night.result().settings == once.settings));
  BOOST_TEST(night.result().passes == once.passes);
  BOOST_REQUIRE(night.result().cells.size() == once.cells.size());
  for (std::size_t i = 0; i < once.cells.size(); ++i) {
    BOOST_TEST((night.result().cells[i].verdict == once.cells[i].verdict));
    BOOST_TEST(night.result().cells[i].speed_mm_s == once.cells[i].speed_mm_s);
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
