// A check measures without writing, and tells an engine as it was tuned from one that has drifted or is worn. What
// happens to the engine is invented.
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "tests/works/workshop.h"

namespace lapwright::workday {
namespace {

struct Tuned : Workshop {
  Tuned() {
    const ShiftTurn tuned = run(Work::tune);
    BOOST_REQUIRE((tuned.result.tune.end == TuneEnd::complete));
    writes_before = writes;
  }
  int writes_before = 0;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(checks, Tuned)

BOOST_AUTO_TEST_CASE(an_engine_as_it_was_tuned) {
  const std::map<int, std::uint8_t> held = decoder();
  const ShiftTurn checked = run(Work::check);
  BOOST_TEST((checked.result.tune.end == TuneEnd::complete), checked.result.tune.detail);
  BOOST_REQUIRE(checked.result.condition.has_value());
  BOOST_TEST((checked.result.condition == Condition::as_tuned), checked.result.told);
  BOOST_TEST(!needs_person(checked.result));
  BOOST_TEST(checked.result.tune.cells.size() == 8U);  // four steps, both directions
  BOOST_TEST(writes == writes_before);
  BOOST_TEST((decoder() == held));
  BOOST_TEST(checked.result.tune.track_s < 1800);
  BOOST_TEST_MESSAGE("a check took " << checked.result.tune.track_s << " s, " << checked.result.tune.passes
                                     << " passes: " << checked.result.told);
  // It stands in the engine's history, and the tune is still what is compared with.
  BOOST_TEST(file().history().back().work == "check");
  BOOST_TEST(file().known().tuned->work == "tune");
}

BOOST_AUTO_TEST_CASE(a_table_that_was_changed_is_drift) {
  for (int number = 67; number <= 94; ++number) {
    decoder()[number] = static_cast<std::uint8_t>(std::lround(decoder()[number] * 1.12));
  }
  const ShiftTurn checked = run(Work::check);
  BOOST_TEST((checked.result.condition == Condition::drifted), checked.result.told);
  BOOST_TEST(needs_person(checked.result));
  BOOST_TEST(writes == writes_before);
}

BOOST_AUTO_TEST_CASE(directions_that_have_grown_apart_are_mechanical) {
  engine().friction.reverse_extra += 0.9;
  engine().decoder.regulation = 0.6;
  const ShiftTurn checked = run(Work::check);
  BOOST_TEST((checked.result.condition == Condition::worn), checked.result.told);
  BOOST_TEST(writes == writes_before);
}

BOOST_AUTO_TEST_CASE(every_step_can_be_checked) {
  const ShiftTurn checked = run(Work::check_all);
  BOOST_TEST((checked.result.tune.end == TuneEnd::complete), checked.result.tune.detail);
  BOOST_TEST(checked.result.tune.cells.size() > 8U);
  BOOST_TEST((checked.result.condition != Condition::drifted), checked.result.told);
  BOOST_TEST((checked.result.condition != Condition::worn), checked.result.told);
}

BOOST_AUTO_TEST_CASE(an_engine_that_is_not_there_is_told) {
  decoder()[19] = 5;  // it listens to a consist's address
  const ShiftTurn checked = run(Work::check);
  BOOST_TEST((checked.result.tune.end == TuneEnd::engine_not_found));
  BOOST_TEST(!checked.result.condition.has_value());
  BOOST_TEST(needs_person(checked.result));
  BOOST_TEST(writes == writes_before);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::workday
