// An engine is put back after a decoder reset: found at its own address or at the factory's short address 3 (S-9.2.2,
// CV1), written, and proved by a spread of steps. What the simulated decoder does at a reset is common practice, no
// source: every CV as it came from the factory.
#include <algorithm>
#include <boost/test/unit_test.hpp>

#include "drivers/simulated/decoder.h"
#include "tests/works/workshop.h"
#include "tuning/cv.h"

namespace lapwright::workday {
namespace {

/// Tuned, as engine no. 1042 at a long address.
struct Restored : Workshop {
  explicit Restored(bool talks = false) {
    move_to_long_address();
    if (talks) let_it_talk();
    const ShiftTurn tuned = run(Work::tune);
    BOOST_REQUIRE_MESSAGE((tuned.result.tune.end == TuneEnd::complete), tuned.result.tune.detail);
    first_s = tuned.result.tune.track_s;
    held = decoder();
    writes = 0;
  }
  void holds_the_same_again() {
    for (const auto& [number, value] : held) {
      BOOST_TEST(static_cast<int>(decoder()[number]) == static_cast<int>(value), "CV" << number);
    }
  }
  double first_s = 0;
  std::map<int, std::uint8_t> held;
};

struct RestoredTalker : Restored {
  RestoredTalker() : Restored(true) {}
};

}  // namespace

BOOST_AUTO_TEST_SUITE(restores)

BOOST_FIXTURE_TEST_CASE(a_reset_decoder_that_talks, RestoredTalker) {
  reset_decoder();
  const ShiftTurn restored = run(Work::restore);
  BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
  BOOST_TEST(!needs_person(restored.result), restored.result.told);
  BOOST_TEST((restored.result.condition == Condition::as_tuned), restored.result.told);
  BOOST_TEST((restored.result.work == Work::restore));
  holds_the_same_again();
  BOOST_TEST_MESSAGE("a talking decoder: " << restored.result.tune.track_s << " s of proof beside a first tune of "
                                           << first_s << " s: " << restored.result.told);
}

BOOST_FIXTURE_TEST_CASE(a_reset_decoder_that_is_silent, Restored) {
  reset_decoder();
  const ShiftTurn restored = run(Work::restore);
  BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
  BOOST_TEST(!needs_person(restored.result), restored.result.told);
  holds_the_same_again();
  BOOST_TEST_MESSAGE("a silent decoder: " << restored.result.tune.track_s << " s of proof beside a first tune of "
                                          << first_s << " s: " << restored.result.told);
}

// Many decoders refuse an address on the main (from memory).
void stays_at_the_factory_address(Restored& bench) {
  bench.reset_decoder();
  bench.engine().decoder.address_writes = false;
  const ShiftTurn restored = bench.run(Work::restore);
  BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
  BOOST_TEST((restored.result.condition == Condition::as_tuned), restored.result.told);
  BOOST_REQUIRE(restored.result.troubles.size() == 1U);
  BOOST_TEST(restored.result.troubles.front().find(
                 "does not take its address (long 1042) on the main, and stays at short 3") != std::string::npos);
  BOOST_TEST(needs_person(restored.result));
  bench.held[17] = 195;  // long 1000, as it came (RCN-225), and not in use: S-9.2.2, CV29 bit 5
  bench.held[18] = 232;
  bench.held[29] &= static_cast<std::uint8_t>(~0x20);
  bench.holds_the_same_again();
}

BOOST_FIXTURE_TEST_CASE(a_decoder_that_talks_and_keeps_the_factory_address, RestoredTalker) {
  stays_at_the_factory_address(*this);
}

BOOST_FIXTURE_TEST_CASE(a_decoder_that_is_silent_and_keeps_the_factory_address, Restored) {
  stays_at_the_factory_address(*this);
}

BOOST_FIXTURE_TEST_CASE(an_undo_after_it_leaves_the_address, RestoredTalker) {
  reset_decoder();
  run(Work::restore);
  const ShiftTurn undone = run(Work::undo);
  BOOST_TEST((undone.result.tune.end == TuneEnd::complete), undone.result.tune.detail);
  BOOST_TEST(decoder()[67] != held[67]);       // as it came from the factory …
  BOOST_TEST((decoder()[29] & 0x20) == 0x20);  // … but for the address
  BOOST_TEST((run(Work::check).result.tune.end != TuneEnd::engine_not_found));
}

BOOST_FIXTURE_TEST_CASE(only_what_differs_is_written_where_it_can_be_read, RestoredTalker) {
  decoder()[70] = 1;
  decoder()[3] = 99;
  const ShiftTurn restored = run(Work::restore);
  BOOST_TEST((restored.result.condition == Condition::as_tuned), restored.result.told);
  BOOST_TEST(restored.result.told.starts_with("2 CVs were written. "), restored.result.told);
  holds_the_same_again();
  BOOST_TEST(writes <= 6);  // and momentum, for the time of the proof
}

BOOST_FIXTURE_TEST_CASE(what_does_not_hold_is_tuned_anew, Restored) {
  reset_decoder();
  engine().motor.top_speed_mm_s *= 1.15;  // it was oiled meanwhile
  const ShiftTurn restored = run(Work::restore);
  BOOST_TEST((restored.result.work == Work::tune));
  BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
  BOOST_TEST(restored.result.tune.cells.size() > 8U);
  BOOST_TEST(restored.result.tune.remarks.back().find("its decoder was restored first") == 0U);
  BOOST_TEST(decoder()[17] == held[17]);
  BOOST_TEST(decoder()[3] == held[3]);
}

// It was oiled, a little: by one and a half tolerances. What its tune has told is the beginning of the next one.
BOOST_FIXTURE_TEST_CASE(a_small_change_is_tuned_from_what_is_known, Restored) {
  reset_decoder();
  engine().motor.top_speed_mm_s *= 1.03;
  const ShiftTurn restored = run(Work::restore);
  BOOST_TEST((restored.result.work == Work::tune));
  BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
  BOOST_TEST(std::ranges::count(phases, "going on from what an earlier tune has told") == 1);
  BOOST_TEST(std::ranges::count(phases, "trying what the decoder obeys") == 1);  // at the first tune
  BOOST_TEST(restored.result.tune.track_s < first_s);
  BOOST_TEST(decoder()[94] != held[94]);
  BOOST_TEST(decoder()[3] == held[3]);
  // And that one tells the next session as much.
  const KnownEngine known = file().known();
  BOOST_TEST(std::ranges::count(known.response.passes, 1, &Observation::sessions_ago) >= 20);
  BOOST_TEST(std::ranges::count(known.response.passes, 0, &Observation::sessions_ago) >= 16);
  writes = 0;
  reset_decoder();
  const ShiftTurn again = run(Work::restore);
  BOOST_TEST((again.result.condition == Condition::as_tuned), again.result.told);
}

// A silent decoder confirms nothing: only the engine's speed tells what it has taken.
BOOST_FIXTURE_TEST_CASE(a_table_that_did_not_come_through_is_noticed, Restored) {
  reset_decoder();
  const ShiftTurn sound = run(Work::restore);
  BOOST_REQUIRE((sound.result.condition == Condition::as_tuned));
  for (const CellResult& cell : sound.result.tune.cells) {
    if (cell.direction == Direction::reverse) continue;
    BOOST_TEST_CONTEXT("step " << cell.step) {
      const int entry = cv::table_entry(cell.step);
      reset_decoder();
      const auto wrong = static_cast<std::uint8_t>(held[entry] * 1.05 + 1);
      written = [&] {
        if (decoder()[entry] == held[entry]) decoder()[entry] = wrong;
      };
      const ShiftTurn restored = run(Work::restore);
      written = [] {};
      BOOST_TEST((restored.result.work == Work::tune), restored.result.told);
      BOOST_TEST((restored.result.tune.end == TuneEnd::complete), restored.result.tune.detail);
      held = decoder();
    }
  }
}

BOOST_FIXTURE_TEST_CASE(it_can_be_put_back_again_and_again, Restored) {
  for (int i = 0; i < 3; ++i) {
    reset_decoder();
    const ShiftTurn restored = run(Work::restore);
    BOOST_TEST((restored.result.condition == Condition::as_tuned), restored.result.told);
    holds_the_same_again();
  }
  // One that comes to nothing takes nothing from what is known either.
  reset_decoder();
  decoder()[cv::consist_address] = 9;
  BOOST_TEST((run(Work::restore).result.tune.end == TuneEnd::engine_not_found));
  reset_decoder();
  BOOST_TEST((run(Work::restore).result.condition == Condition::as_tuned));
  holds_the_same_again();
}

BOOST_FIXTURE_TEST_CASE(an_engine_that_is_nowhere_is_left_alone, Restored) {
  reset_decoder();
  decoder()[cv::consist_address] = 9;
  writes = 0;
  const ShiftTurn nobody = run(Work::restore);
  BOOST_TEST((nobody.result.tune.end == TuneEnd::engine_not_found));
  BOOST_TEST(nobody.result.tune.detail.find("neither at its address (long 1042) nor at the factory's (short 3)") !=
             std::string::npos);
  BOOST_TEST(needs_person(nobody.result));
  BOOST_TEST(writes == 0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::workday
