// Tunes that can't be done end with a named reason and a sentence that helps, and momentum is put back all the same.
#include <boost/test/unit_test.hpp>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

bool mentions(const std::string& text, const std::string& word) { return text.find(word) != std::string::npos; }

void check_ended(Night& night, TuneEnd end, const std::string& word) {
  BOOST_TEST((night.result().end == end),
             "ended " << static_cast<int>(night.result().end) << " '" << night.result().detail << "'");
  BOOST_TEST(mentions(night.result().detail, word), "'" << night.result().detail << "' does not mention " << word);
  night.settle();
  check_lent_put_back(night);
  for (const CellResult& cell : night.result().cells) BOOST_TEST((cell.verdict != Verdict::proved));
}

}  // namespace

BOOST_AUTO_TEST_SUITE(endings)

BOOST_AUTO_TEST_CASE(no_table_in_the_decoder) {
  for (const bool answers : {true, false}) {
    BOOST_TEST_CONTEXT("answers reads " << answers) {
      simulated::EngineDescription engine = plain_engine();
      engine.decoder.table_implemented = false;
      engine.decoder.answers_reads = answers;
      engine.decoder.cvs[cv::configuration] = static_cast<std::uint8_t>(answers ? 0x0A : 0x02);
      Night night(loop_night(engine, 401));
      night.tune();
      if (answers) {
        check_ended(night, TuneEnd::table_not_enabled, "CV29");
      } else {
        check_ended(night, TuneEnd::engine_not_found, "address");
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(engine_not_on_the_track) {
  Plan plan = loop_night(plain_engine(), 411);
  plan.railway.board.miss = 1;  // no gate ever sees it
  Night night(plan);
  night.tune();
  check_ended(night, TuneEnd::engine_not_found, "gate");
}

BOOST_AUTO_TEST_CASE(table_off_and_configuration_unknown) {
  simulated::EngineDescription engine = plain_engine();
  engine.decoder.cvs[cv::configuration] = 0x02;
  engine.decoder.bit_writes = false;
  Plan plan = loop_night(engine, 421);
  tell_record(plan, {cv::acceleration, cv::deceleration});
  Night night(plan);
  night.tune();
  check_ended(night, TuneEnd::engine_not_found, "CV29");
  BOOST_TEST(night.cv(cv::configuration) == 0x02);  // never guessed
}

BOOST_AUTO_TEST_CASE(momentum_unknown_and_unreadable) {
  Plan plan = loop_night(plain_engine(), 431);
  tell_record(plan, {});
  Night night(plan);
  night.tune();
  check_ended(night, TuneEnd::unknown_momentum, "CV3");
  BOOST_TEST(night.most_writes_of_one_cv() == 0);  // it must not touch what it can't put back
  BOOST_TEST(night.rig().cv_writes() == 0u);
}

BOOST_AUTO_TEST_CASE(momentum_read_from_a_decoder_that_answers) {
  simulated::EngineDescription engine = plain_engine();
  engine.decoder.answers_reads = true;
  engine.decoder.cvs[cv::configuration] = 0x1A;
  Plan plan = loop_night(engine, 441);
  tell_record(plan, {});
  for (StepAim& aim : plan.order.aims) aim.prove = aim.step >= 26;
  Night night(plan);
  night.tune();
  BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
  BOOST_TEST(night.writes_of(cv::acceleration) > 0);
  night.settle();
  check_lent_put_back(night);
}

BOOST_AUTO_TEST_CASE(track_time_spent) {
  Plan plan = loop_night(plain_engine(), 451);
  plan.order.budget_s = 200;
  Night night(plan);
  night.tune();
  BOOST_TEST((night.result().end == TuneEnd::budget_spent));
  BOOST_TEST(night.result().track_s < 200 + 120);  // at most one pass and a search beyond
  for (const CellResult& cell : night.result().cells) {
    if (cell.verdict == Verdict::not_measured) BOOST_TEST((cell.shortfall == Shortfall::interrupted));
  }
  night.settle();
  check_lent_put_back(night);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
