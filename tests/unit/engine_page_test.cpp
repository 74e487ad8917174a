// An engine's page: whole markup, everything in it that the notebook held, cautions in view, drift in numbers.
#include "daemon/pages/engine_page.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <sstream>

#include "daemon/report_files.h"
#include "daemon/wording.h"
#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"
#include "tests/unit/markup_check.h"

using namespace lapwright;
using markup::Element;

namespace {

/// A page, its flaws looked for.
std::vector<Element> page_of(const Job& job, const JobResult& result, const std::vector<EarlierTune>& history = {},
                             const std::string& at = "2026-11-27 02:14:09 +0100") {
  const std::string page = engine_page("Quillmoor & Tarn Light Railway", job, result, history, at);
  BOOST_TEST(markup::flaw(page).empty(), markup::flaw(page));
  for (const char* foreign : {"<script", "<link", "<img", "url(", "@import", "src="}) {
    BOOST_TEST(page.find(foreign) == std::string::npos, foreign);
  }
  return markup::elements(page);
}

/// Everything in the first aside: what is in view before all else.
std::string cautions_of(const std::vector<Element>& page) { return markup::named(page, "aside").at(0).all; }

/// The cells of each row, joined by a bar, that contain the text.
std::string row_with(const std::vector<Element>& page, const std::string& begins) {
  for (std::size_t i = 0; i < page.size(); ++i) {
    if (page[i].name != "tr") continue;
    std::string row;
    for (std::size_t cell = i + 1; cell < page.size() && page[cell].name != "tr"; ++cell) {
      if (page[cell].name == "td") row += (row.empty() ? "" : "|") + page[cell].all;
    }
    if (row.starts_with(begins)) return row;
  }
  return "no row " + begins;
}

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

EarlierTune earlier(const std::string& date, const std::string& work) {
  return {date, work, "All 2 steps are proved in both directions.", {}, "15.1 V, 21 °C"};
}

/// The sample's speeds are 2.48 and 2.51, 17.2 and 17.9 smph, with tolerances of 0.1 and 0.36.
EarlierTune with_speeds(const std::string& date, const std::string& work) {
  EarlierTune tune = earlier(date, work);
  tune.speeds[4] = {samples::mm_s(2.50), samples::mm_s(2.39)};
  tune.speeds[28] = {samples::mm_s(17.6), std::nullopt};
  tune.speeds[13] = {samples::mm_s(8.0), samples::mm_s(8.0)};  // no step of the present sheet
  return tune;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(engine_pages)

BOOST_AUTO_TEST_CASE(identity_outcome_and_steps) {
  const std::vector<Element> page = page_of(samples::job(), samples::result());
  BOOST_TEST(markup::named(page, "h1").at(0).text == "Bracken no. 18");
  BOOST_TEST(markup::named(page, "p", "plate").at(0).text == "18");
  BOOST_TEST(holds(markup::named(page, "header").at(0).all, "HO 1:87.1, short address 18"));
  BOOST_TEST(holds(markup::named(page, "header").at(0).all, "2026-11-27 02:14:09 +0100"));
  BOOST_TEST(holds(markup::named(page, "p", "outcome").at(0).all, "1 of 2 steps are proved"));
  BOOST_TEST(markup::named(page, "svg").size() == 1U);
  BOOST_TEST(row_with(page, "1|4|") == "1|4|2.50|±0.10|2.48|±0.05|2.51|±0.05|4|proved");
  BOOST_TEST(row_with(page, "8|28|") == "8|28|18.00|±0.36|17.20|±0.05|17.90|±0.05|4|best attainable");
  BOOST_TEST(holds(markup::named(page, "body").at(0).all, "Step 28: full drive is too slow"));
}

BOOST_AUTO_TEST_CASE(every_cv_by_name_and_meaning) {
  Job job = samples::job();
  job.record.cvs = {{3, 99}, {19, 138}, {29, 18}};  // CV3 was changed since: the work knows better
  const std::vector<Element> page = page_of(job, samples::result());
  BOOST_TEST(row_with(page, "CV1|") == "CV1|18|Primary Address|short address 18|address");
  BOOST_TEST(row_with(page, "CV3|") == "CV3|28|Acceleration Rate|0.896 s a step, 25.1 s over all 28|work");
  BOOST_TEST(row_with(page, "CV19|") == "CV19|138|Consist Address|consist 10, reversed direction|record");
  BOOST_TEST(holds(row_with(page, "CV29|"), "CV29|18|Configuration Data|bit 1: "));
  BOOST_TEST(row_with(page, "CV66|") == "CV66|128|Forward Trim|drive × 1.000 in forward|work");
  BOOST_TEST(row_with(page, "CV67|") == "CV67|1|10|3.9 %|CV74|8|?||CV81|15|?||CV88|22|?|");
  BOOST_TEST(holds(row_with(page, "CV73|"), "CV94|28|240|94.1 %"));
}

BOOST_AUTO_TEST_CASE(a_long_address_is_told_as_its_cvs) {
  Job job = samples::job();
  job.record.long_address = true;
  job.record.address = 1234;
  const std::vector<Element> page = page_of(job, samples::result());
  BOOST_TEST(row_with(page, "CV17|") == "CV17|196|Extended Address, high|long address 1234|address");
  BOOST_TEST(row_with(page, "CV18|") == "CV18|210|Extended Address, low|long address 1234|address");
  BOOST_TEST(row_with(page, "CV1|") == "no row CV1|");
}

// S-9.2.2 l. 57-64: 28 · 0.896 s / 28 = 0.896 s a step.
BOOST_AUTO_TEST_CASE(momentum_by_the_formula) {
  Job job = samples::job();
  job.record.cvs = {{23, 133}};
  const std::vector<Element> page = page_of(job, samples::result());
  BOOST_TEST(row_with(page, "Gathering") == "Gathering speed|CV3 = 28|less 5|0.736 s|20.6 s");
  BOOST_TEST(row_with(page, "Losing") == "Losing speed|CV4 not known|not known, taken as 0||");
}

BOOST_AUTO_TEST_CASE(cautions_are_in_view) {
  JobResult result = samples::result();
  const std::string calm = cautions_of(page_of(samples::job(), result));
  BOOST_TEST(holds(calm, "no emergency stop"));
  BOOST_TEST(holds(calm, "seed 11"));
  BOOST_TEST(!holds(calm, "needs a person"));
  result.owed = {{3, 28}};
  result.cvs[3] = 0;
  result.unprotected = {"no current sensor: a short circuit or stall is not noticed"};
  result.stop = Stop{StopReason::over_current, "the track drew 2100 mA"};
  const std::vector<Element> page = page_of(samples::job(), result);
  const std::string alert = cautions_of(page);
  BOOST_TEST(markup::named(page, "aside").at(0).has_class("alert"));
  BOOST_TEST(holds(alert, "This engine needs a person"));
  BOOST_TEST(holds(alert, "lapwright clear"));
  BOOST_TEST(holds(alert, "Owed: CV3 = 28"));
  BOOST_TEST(holds(alert, "Protection missing: no current sensor"));
  BOOST_TEST(holds(alert, "no emergency stop"));
  BOOST_TEST(row_with(page, "CV3|") == "CV3|0|Acceleration Rate|no momentum Owed: 28, write it by hand.|work");
  const auto first = [&](const std::string& name) {
    const auto is = [&](const Element& each) { return each.name == name; };
    return std::find_if(page.begin(), page.end(), is) - page.begin();
  };
  BOOST_TEST(first("aside") < first("svg"));
}

BOOST_AUTO_TEST_CASE(whatever_names_hold_stays_text) {
  Job job = samples::job();
  job.record.name = "<script>x</script> & \"\xFF\"";
  job.record.notes = "oil <b>it</b>\x01";
  job.sheet.points[0].notch = "<1>";
  job.speed_defined = "over the trap 'a' - \"b\"";
  JobResult result = samples::result();
  result.tune.remarks = {"1 < 2 & 3"};
  EarlierTune odd = with_speeds("<date>", "tune");
  odd.conditions = "& \xC3\x28";
  const std::vector<Element> page = page_of(job, result, {odd}, "<now>");
  BOOST_TEST(markup::named(page, "h1").at(0).text == "<script>x</script> & \"\xEF\xBF\xBD\" no. 18");
  const std::string all = markup::named(page, "body").at(0).all;
  for (const char* text : {"oil <b>it</b>\xEF\xBF\xBD", "'a' - \"b\"", "1 < 2 & 3", "<now>", "<date>"}) {
    BOOST_TEST(holds(all, text), text);
  }
  BOOST_TEST(holds(row_with(page, "<1>|"), "<1>|4|"));
}

BOOST_AUTO_TEST_CASE(works_that_measured_nothing_make_a_page_too) {
  JobResult nothing;
  nothing.tune.end = TuneEnd::engine_not_found;
  nothing.tune.detail = "no gate saw the engine move";
  Job job = samples::job();
  job.record.road_number.clear();
  const std::vector<Element> page = page_of(job, nothing, {}, "");
  BOOST_TEST(markup::named(page, "svg").empty());
  BOOST_TEST(markup::named(page, "p", "plate").at(0).text == "18");  // its address
  BOOST_TEST(markup::named(page, "p", "outcome").at(0).all ==
             "Ended early: no gate saw the engine move. No step was measured.");
  BOOST_TEST(holds(markup::named(page, "body").at(0).all, "No earlier work on this engine is known."));
}

// Then 2.50, 2.39 and 17.60, now 2.48, 2.51 and 17.20 smph: -0.8 %, +5.02 %, -2.27 %, on average +0.65 %.
BOOST_AUTO_TEST_CASE(drift_by_step_and_in_a_sentence) {
  const Job job = samples::job();
  const std::vector<StepResult> now = by_step(samples::result().tune.cells, job.sheet);
  const std::vector<StepDrift> drifts = drift_since(with_speeds("then", "tune"), now);
  BOOST_REQUIRE(drifts.size() == 3U);
  BOOST_TEST(drifts[0].step == 4);
  BOOST_TEST((drifts[1].direction == Direction::reverse));
  BOOST_TEST(drifts[1].change_mm_s() == samples::mm_s(0.12), boost::test_tools::tolerance(1e-9));
  BOOST_TEST(!drifts[0].beyond_tolerance());
  BOOST_TEST(drifts[1].beyond_tolerance());
  BOOST_TEST(drifts[2].beyond_tolerance());
  BOOST_TEST(drift_sentence(drifts, SpeedUnit::mph, 87.1) ==
             "On average 0.6 % faster; the largest change is -0.40 smph (step 28, forward); 2 of 3 readings have "
             "changed by more than their tolerance.");
  BOOST_TEST(drift_sentence({drifts[0]}, SpeedUnit::mph, 87.1) ==
             "On average 0.8 % slower; the largest change is -0.02 smph (step 4, forward); 0 of 1 readings have "
             "changed by more than their tolerance.");
  BOOST_TEST(drift_sentence({}, SpeedUnit::mph, 87.1) == "No step was measured both times.");
}

BOOST_AUTO_TEST_CASE(history_newest_first_and_drift_since_the_last_tune) {
  const std::vector<EarlierTune> history = {with_speeds("2026-05-01", "tune"), with_speeds("2026-08-01", "tune"),
                                            earlier("2026-09-01", "tune"), with_speeds("2026-10-01", "check"),
                                            earlier("2026-11-01", "restore")};
  BOOST_TEST(last_measured(history) == &history[1]);
  BOOST_TEST(last_measured({history.begin() + 2, history.end()})->work == "check");
  BOOST_TEST((last_measured({history[2], history[4]}) == nullptr));
  const std::vector<Element> page = page_of(samples::job(), samples::result(), history);
  std::vector<std::string> dates;
  for (const Element& cell : markup::named(page, "td", "cv")) {
    if (cell.text.starts_with("2026-")) dates.push_back(cell.text);
  }
  const std::vector<std::string> newest_first = {"2026-11-01", "2026-10-01", "2026-09-01", "2026-08-01", "2026-05-01"};
  BOOST_TEST(dates == newest_first, boost::test_tools::per_element());
  BOOST_TEST(holds(markup::named(page, "body").at(0).all, "Drift since 2026-08-01 (tune)"));
  BOOST_TEST(row_with(page, "4|2.50|") == "4|2.50|2.48|-0.02|2.39|2.51|+0.12|0.10");
  BOOST_TEST(row_with(page, "28|17.60|") == "28|17.60|17.20|-0.40|–|–||0.36");
}

BOOST_AUTO_TEST_CASE(stands_beside_the_other_reports) {
  const TemporaryFolder folder;
  RealStorage storage;
  write_reports(storage, folder.path(), "Quillmoor", samples::job(), samples::result(), {}, "now");
  std::stringstream text;
  text << std::ifstream(folder.path() / "bracken_18.html").rdbuf();
  BOOST_TEST(text.str() == engine_page("Quillmoor", samples::job(), samples::result(), {}, "now"));
  BOOST_TEST(std::filesystem::exists(folder.path() / "bracken_18.json"));
  BOOST_TEST(std::filesystem::exists(folder.path() / "bracken_18.txt"));
}

BOOST_AUTO_TEST_SUITE_END()
