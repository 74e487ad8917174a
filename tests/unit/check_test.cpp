// What a check concludes from readings beside those of the latest tune, and what a restore wants. The numbers are made
// up; CV29 bit 5 and the rules about CV1, CV17 and CV18 are S-9.2.2's.
#include "daemon/check.h"

#include <boost/test/unit_test.hpp>

#include "daemon/wanted_cvs.h"
#include "tests/unit/daemon_samples.h"

namespace lapwright {
namespace {

struct Readings {
  Readings() {
    for (const int step : {4, 12, 20, 28}) {
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        CellResult cell;
        cell.step = step;
        cell.direction = direction;
        cell.target_mm_s = 10.0 * step;
        cell.tolerance_mm_s = 0.3 * step;
        cell.speed_mm_s = cell.target_mm_s;
        cell.passes = 2;
        cell.verdict = Verdict::proved;
        now.cells.push_back(cell);
        StepSpeeds& then = tuned.speeds[step];
        (direction == Direction::forward ? then.forward_mm_s : then.reverse_mm_s) = cell.target_mm_s;
      }
    }
    tuned.work = "tune";
    tuned.scales = scattering(0.004);
    tuned.top_current_mA = 180;
    now.scales = scattering(0.005);
    now.top_current_mA = 185;
  }
  static ResponseScales scattering(double repeatability) {
    ResponseScales scales;
    scales.repeatability = repeatability;
    return scales;
  }
  CheckFinding judge() { return judge_check(now, tuned); }
  void set(std::size_t place, double share, Verdict verdict) {
    now.cells[place].speed_mm_s = share * now.cells[place].target_mm_s;
    now.cells[place].verdict = verdict;
  }
  TuneResult now;
  EarlierTune tuned;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(check_judgement, Readings)

BOOST_AUTO_TEST_CASE(readings_that_agree_are_as_tuned) {
  BOOST_TEST((judge().condition == Condition::as_tuned));
  BOOST_TEST(judge().sentence == "As tuned: 8 readings over 4 steps agree.");
  BOOST_TEST((judge_check(now, std::nullopt).condition == Condition::as_tuned));
}

BOOST_AUTO_TEST_CASE(a_reading_out_of_tolerance_has_drifted) {
  set(2, 1.06, Verdict::failed);
  const CheckFinding finding = judge();
  BOOST_TEST((finding.condition == Condition::drifted));
  BOOST_TEST(finding.sentence == "Drifted. Out of tolerance: step 12 forward by +6.0 %. Tune it anew.");
}

BOOST_AUTO_TEST_CASE(what_its_tune_had_left_out_of_tolerance_is_no_drift) {
  set(2, 1.06, Verdict::failed);
  tuned.speeds[12].forward_mm_s = 1.05 * 120;
  BOOST_TEST((judge().condition == Condition::as_tuned));
  set(2, 1.10, Verdict::failed);  // but this is
  BOOST_TEST((judge().condition == Condition::drifted));
}

BOOST_AUTO_TEST_CASE(an_unknown_engine_is_judged_by_its_sheet) {
  set(2, 1.06, Verdict::failed);
  BOOST_TEST((judge_check(now, std::nullopt).condition == Condition::drifted));
}

BOOST_AUTO_TEST_CASE(what_can_not_be_told_is_said) {
  set(7, 0.98, Verdict::marginal);
  now.cells[6].passes = 0;
  BOOST_TEST((judge().condition == Condition::not_certain));
  BOOST_TEST(judge().sentence.find("2 of 8 readings") == 0U);
}

BOOST_AUTO_TEST_CASE(directions_scatter_and_current_point_at_the_engine) {
  for (std::size_t place = 1; place < 8; place += 2) set(place, 0.94, Verdict::failed);
  CheckFinding finding = judge();
  BOOST_TEST((finding.condition == Condition::worn));
  BOOST_TEST(finding.sentence.find("forward and reverse differ by 6.0 % of their speed, and by 0.0 % at its tune") !=
             std::string::npos);
  BOOST_TEST(finding.sentence.find("Out of tolerance: step 4 in reverse by -6.0 %") != std::string::npos);
  for (std::size_t place = 1; place < 8; place += 2) set(place, 1, Verdict::proved);
  now.scales = scattering(0.02);
  BOOST_TEST((judge().condition == Condition::worn));
  now.scales = scattering(0.005);
  now.top_current_mA = 260;
  finding = judge();
  BOOST_TEST((finding.condition == Condition::worn));
  BOOST_TEST(finding.sentence.find("it draws up to 260 mA, and 180 mA at its tune") != std::string::npos);
  tuned.top_current_mA.reset();
  BOOST_TEST((judge().condition == Condition::as_tuned));
}

BOOST_AUTO_TEST_CASE(the_spread_goes_from_the_lowest_to_the_highest_step) {
  Job job = samples::job();
  job.order.aims.clear();
  for (int step = 1; step <= 28; ++step) job.order.aims.push_back({step, 3.0 * step, 0.3, step >= 3});
  job.record.cvs = {{3, 10}};
  CvLedger ledger;
  ledger.found(4, 20);
  const InspectionOrder spread = check_order(job, ledger, false);
  BOOST_REQUIRE(spread.steps.size() == 4U);
  BOOST_TEST(spread.steps.front().step == 3);
  BOOST_TEST(spread.steps.back().step == 28);
  BOOST_TEST(spread.top_mm_s == 84);
  // S-9.2.2: CV3 × 0.896 s from standing to full speed, CV4 × 0.896 s back.
  BOOST_TEST(spread.momentum.gather_s == 8.96, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(spread.momentum.brake_s == 17.92, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(check_order(job, ledger, true).steps.size() == 26U);
}

// At step 16 of 28 and 48 mm/s: 300 mm of engine and 60 mm until it is seen off, and 1.3 s with half of 4/7 x (8.96 +
// 17.92) s, 9 s, on the way: 791 mm. At step 17 and 51 mm/s 843 mm.
BOOST_AUTO_TEST_CASE(steps_that_a_shuttle_has_no_room_for_are_left_out_and_told) {
  Job job = samples::job();
  job.order.track.shape = TrackShape::shuttle;
  job.order.clear_below_mm = 2000;
  job.order.clear_above_mm = 800;
  job.order.aims.clear();
  for (int step = 1; step <= 28; ++step) job.order.aims.push_back({step, 3.0 * step, 0.3, true});
  job.record.cvs = {{3, 10}, {4, 20}};
  const InspectionOrder all = check_order(job, CvLedger(), true);
  BOOST_TEST(all.steps.size() == 16U);
  BOOST_TEST(check_order(job, CvLedger(), false).steps.back().step == 16);
  BOOST_TEST(left_out_for_room(job, all).find("steps from 17 on") == 0);
  job.order.track.shape = TrackShape::loop;
  BOOST_TEST(check_order(job, CvLedger(), true).steps.size() == 28U);
  BOOST_TEST(left_out_for_room(job, check_order(job, CvLedger(), true)).empty());
}

BOOST_AUTO_TEST_CASE(a_restore_proves_what_its_tune_had_proved_with_room) {
  Job job = samples::job();
  job.order.aims.clear();
  for (int step = 1; step <= 28; ++step) job.order.aims.push_back({step, 3.0 * step, 0.3, step >= 5});
  const auto steps = [&](const std::optional<EarlierTune>& then) {
    std::vector<int> result;
    for (const StepAim& aim : proof_order(job, then).steps) result.push_back(aim.step);
    return result;
  };
  const auto expect = [&](const std::optional<EarlierTune>& then, const std::vector<int>& expected) {
    const std::vector<int> found = steps(then);
    BOOST_TEST(found == expected, boost::test_tools::per_element());
  };
  expect(std::nullopt, {10, 16, 22, 28});
  tuned.speeds.clear();
  expect(tuned, {10, 16, 22, 28});  // the document tells of no step
  for (int step = 5; step <= 28; ++step) tuned.speeds[step] = {3.0 * step + 0.1, 3.0 * step - 0.1, true};
  tuned.speeds[15].forward_mm_s = 45.0 + 0.05;
  expect(tuned, {10, 16, 22, 28});  // one direction is as far off as before
  tuned.speeds[15].reverse_mm_s = 45.0;
  expect(tuned, {10, 16, 22, 28});  // the faster one has room enough
  tuned.speeds[16].reverse_mm_s = 48.0 - 0.24;
  expect(tuned, {10, 15, 22, 28});  // now it has not
  tuned.speeds[16].reverse_mm_s = 48.0 - 0.1;
  for (int step = 23; step <= 28; ++step) tuned.speeds[step].proved = false;
  expect(tuned, {8, 13, 17, 22});  // quarters of 5 to 22
  for (int step = 5; step <= 19; ++step) tuned.speeds[step].proved = false;
  expect(tuned, {10, 16, 22, 28});  // three proved steps make no spread
}

BOOST_AUTO_TEST_CASE(a_restore_wants_the_tune_from_the_document_and_the_rest_from_the_record) {
  EngineRecord record;
  record.cvs = {{3, 30}, {29, 6}, {67, 1}, {21, 5}, {1, 7}, {8, 99}};
  record.pages = {{16, 1, {{257, 4}}}};
  KnownEngine known;
  known.cvs = {{3, 28}, {4, 0}, {29, 50}, {67, 12}, {7, 1}, {17, 196}};
  known.owed = {{4, 20}};
  const WantedCvs wanted = wanted_cvs(record, known);
  BOOST_TEST((wanted.plain == CvValues{{3, 30}, {4, 20}, {21, 5}, {29, 50}, {67, 12}}));
  BOOST_TEST(wanted.pages.size() == 1U);
  const std::set<int> allowed = cvs_of_a_restore(wanted);
  for (const int number : {1, 17, 18, 21, 31, 32, 67, 257}) BOOST_TEST(allowed.contains(number));
  for (const int number : {7, 8, 15, 16, 258}) BOOST_TEST(!allowed.contains(number));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
