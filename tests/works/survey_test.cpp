// Before the first write: is it the right engine, and what does its decoder hold? And an undo. CV7 and CV8 are maker's
// version and number by S-9.2.2; the values are invented.
#include <boost/test/unit_test.hpp>

#include "tests/works/workshop.h"

namespace lapwright::workday {

BOOST_FIXTURE_TEST_SUITE(survey, Workshop)

BOOST_AUTO_TEST_CASE(an_undo_puts_back_what_a_talking_decoder_held) {
  let_it_talk();
  engine().decoder.cvs[7] = 33;
  engine().decoder.cvs[8] = 211;
  engine().decoder.cvs[67] = 9;
  engine().decoder.cvs[80] = 99;
  const std::map<int, std::uint8_t> before = engine().decoder.cvs;
  const ShiftTurn tuned = run(Work::tune);
  BOOST_TEST((tuned.result.tune.end == TuneEnd::complete), tuned.result.tune.detail);
  BOOST_TEST(decoder()[80] != 99);
  BOOST_TEST((tuned.result.identity == CvValues{{7, 33}, {8, 211}}));
  BOOST_TEST(tuned.result.before.at(80) == 99);
  BOOST_TEST(tuned.result.before.at(3) == 6);
  const KnownEngine known = file().known();
  BOOST_TEST((known.identity == CvValues{{7, 33}, {8, 211}}));
  BOOST_TEST(known.before.at(67) == 9);

  const ShiftTurn undone = run(Work::undo);
  BOOST_TEST((undone.result.tune.end == TuneEnd::complete), undone.result.tune.detail);
  BOOST_TEST(!needs_person(undone.result));
  for (const auto& [number, value] : before) {
    BOOST_TEST(static_cast<int>(decoder()[number]) == static_cast<int>(value), "CV" << number);
  }
  BOOST_TEST(undone.result.told.find("the decoder holds what it held before") != std::string::npos);
  // And an undo of the undo brings the tune back.
  const std::map<int, std::uint8_t> original = decoder();
  run(Work::undo);
  BOOST_TEST(decoder()[80] != 99);
  BOOST_TEST(decoder()[3] == 6);
}

BOOST_AUTO_TEST_CASE(another_decoder_at_the_address_is_left_alone) {
  let_it_talk();
  engine().decoder.cvs[8] = 211;
  run(Work::tune);
  const int before = writes;
  decoder()[8] = 212;
  const ShiftTurn other = run(Work::tune);
  BOOST_TEST((other.result.tune.end == TuneEnd::other_decoder));
  BOOST_TEST(needs_person(other.result));
  BOOST_TEST(other.result.tune.detail.find("answers CV8 = 212, and that of Tarn Lady no. 3 had 211") !=
             std::string::npos);
  BOOST_TEST(other.result.tune.detail.find("tarn_lady_3.json") != std::string::npos);
  BOOST_TEST(writes == before);
}

BOOST_AUTO_TEST_CASE(one_that_answered_before_and_is_silent_is_left_alone) {
  let_it_talk();
  run(Work::tune);
  const int before = writes;
  decoder()[29] &= 0xF7;  // bit 3: replies are off (S-9.2.2), as those of an engine that stands there in its place
  for (const Work work : {Work::tune, Work::check}) {
    const ShiftTurn silent = run(work);
    BOOST_TEST((silent.result.tune.end == TuneEnd::engine_not_found));
    BOOST_TEST(silent.result.tune.detail.find("the decoder of Tarn Lady no. 3 did before") != std::string::npos);
  }
  BOOST_TEST(writes == before);
}

BOOST_AUTO_TEST_CASE(a_silent_decoder_has_to_be_seen_moving) {
  const ShiftTurn tuned = run(Work::tune);
  BOOST_TEST((tuned.result.tune.end == TuneEnd::complete), tuned.result.tune.detail);
  BOOST_TEST(tuned.result.before.empty());
  phases.clear();
  const ShiftTurn undone = run(Work::undo);
  BOOST_TEST((undone.result.tune.end == TuneEnd::nothing_to_undo));
  BOOST_TEST(needs_person(undone.result));
  BOOST_TEST(phases.empty());  // it was not moved for that
}

BOOST_AUTO_TEST_CASE(where_none_is_seen_moving_nothing_is_written) {
  engine().decoder.cvs[19] = 5;  // it listens to a consist's address (S-9.2.2), and not to its own
  const ShiftTurn nobody = run(Work::tune);
  BOOST_TEST((nobody.result.tune.end == TuneEnd::engine_not_found));
  BOOST_TEST(nobody.result.tune.detail.find("Nothing was written") != std::string::npos);
  BOOST_TEST(writes == 0);
  BOOST_TEST(nobody.result.owed.empty());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::workday
