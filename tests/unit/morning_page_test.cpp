// The shift's page: people first and in the order of their hurry, then every engine, what was not begun, and why.
#include "daemon/pages/morning_page.h"

#include <boost/test/unit_test.hpp>
#include <filesystem>

#include "daemon/report_files.h"
#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"
#include "tests/unit/markup_check.h"

using namespace lapwright;

namespace {

struct Night {
  Night() {
    for (const char* name : {"Bracken", "Nettle", "Heather & Co", "Sparrow", "Ganger"}) {
      jobs.push_back(samples::job());
      jobs.back().record.name = name;
    }
  }
  static JobResult good() {
    JobResult result = samples::result();
    for (CellResult& cell : result.tune.cells) cell.verdict = Verdict::proved;
    return result;
  }
  static JobResult in_debt() {
    JobResult result = good();
    result.owed = {{4, 20}};
    return result;
  }
  static JobResult broken_off() {
    JobResult result = good();
    result.broken_off = true;
    return result;
  }
  static JobResult tripped() {
    JobResult result = good();
    result.stop = Stop{StopReason::over_current, "the track drew 2100 mA; look for a short circuit"};
    return result;
  }
  std::string page(const std::string& trouble = "", bool over = true) {
    text = morning_page({"Quillmoor & Tarn Light Railway", turns(), trouble, over, "2026-11-27 06:31"});
    BOOST_TEST(markup::flaw(text).empty(), markup::flaw(text));
    all = markup::elements(text);
    return markup::named(all, "body").at(0).all;
  }
  [[nodiscard]] std::vector<MorningJob> turns() const {
    std::vector<MorningJob> all_turns;
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      const std::size_t place = i - earlier.size();  // huge for the earlier ones
      all_turns.push_back({title(jobs[i].record), file_stem(jobs[i].record), jobs[i].sheet.name, &jobs[i],
                           place < results.size() ? &results[place] : nullptr,
                           i < earlier.size() ? std::optional<bool>(earlier[i]) : std::nullopt});
    }
    return all_turns;
  }
  /// All of the box for people; empty where there is none.
  [[nodiscard]] std::string people() const {
    const auto boxes = markup::named(all, "section", "alert");
    return boxes.empty() ? "" : boxes[0].all;
  }
  [[nodiscard]] std::string section(const std::string& name) const {
    for (const markup::Element& each : markup::named(all, "section")) {
      const std::size_t begin = each.all.find_first_not_of('\n');
      if (begin != std::string::npos && each.all.compare(begin, name.size(), name) == 0) return each.all;
    }
    return "";
  }
  [[nodiscard]] std::string summary() const { return markup::named(all, "p", "outcome").at(0).all; }

  std::vector<Job> jobs;
  std::vector<JobResult> results;
  std::vector<bool> earlier;  // whether the first ones, which were through before, need a person
  std::string text;
  std::vector<markup::Element> all;
};

bool in_order(const std::string& text, const std::vector<std::string>& parts) {
  std::size_t from = 0;
  for (const std::string& part : parts) {
    from = text.find(part, from);
    if (from == std::string::npos) return false;
  }
  return true;
}

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(morning, Night)

BOOST_AUTO_TEST_CASE(people_come_first_the_dead_track_before_debts) {
  results = {good(), broken_off(), in_debt(), tripped()};
  const std::string body = page();
  BOOST_TEST(in_order(people(), {"Sparrow no. 18", "2100 mA", "lapwright clear", "Heather & Co no. 18",
                                 "Owed: CV4 = 20", "Nettle no. 18", "Broken off on request"}));
  BOOST_TEST(!says(people(), "Bracken"));
  BOOST_TEST(in_order(body, {"What needs a person", "Not begun", "Every engine", "Cautions"}));
  BOOST_TEST(summary() ==
             "5 engines: 4 worked on, 3 of them need a person, 1 not begun. 1 h 26 min of track time, 524 passes.");
}

BOOST_AUTO_TEST_CASE(what_was_not_begun_and_why) {
  results = {good(), tripped()};
  page();
  BOOST_TEST(in_order(section("Not begun"),
                      {"The track is dead since Nettle no. 18 was stopped", "Heather & Co", "Sparrow", "Ganger"}));
  BOOST_TEST(!says(section("Not begun"), "Bracken"));
  results = {good(), good()};
  page("the board does not answer");
  BOOST_TEST(says(section("Not begun"), "could not be taken: the board does not answer."));
  BOOST_TEST(says(people(), "the board does not answer; when all is well, go on with: lapwright clear."));
  page();
  BOOST_TEST(says(section("Not begun"), "ended before it was their turn"));
}

BOOST_AUTO_TEST_CASE(every_engine_in_the_order_of_the_shift_with_a_link_to_its_page) {
  results = {good(), samples::result()};
  page();
  const std::string table = section("Every engine");
  BOOST_TEST(in_order(
      table, {"Bracken no. 18", "proved", "2 of 2", "21 min 34 s", "131", "Nettle no. 18", "best attainable",
              "1 best attainable", "1 of 2", "Heather & Co no. 18", "not begun", "Sparrow", "not begun", "Ganger"}));
  std::vector<std::string> links;
  for (const auto& each : markup::named(all, "a")) links.push_back(each.attribute("href") + " " + each.text);
  const std::vector<std::string> expected = {"bracken_18.html Bracken no. 18", "nettle_18.html Nettle no. 18"};
  BOOST_TEST(links == expected, boost::test_tools::per_element());
}

BOOST_AUTO_TEST_CASE(a_good_night_needs_nobody) {
  results = {good(), good(), good(), good(), good()};
  const std::string body = page();
  BOOST_TEST(says(body, "Nothing needs a person."));
  BOOST_TEST(people().empty());
  BOOST_TEST(section("Not begun").empty());
  BOOST_TEST(says(body, "no emergency stop"));
  BOOST_TEST(says(body, "seed 11"));
}

BOOST_AUTO_TEST_CASE(a_shift_that_went_on_knows_its_earlier_engines) {
  earlier = {false, true};
  results = {good()};
  page();
  BOOST_TEST(in_order(people(), {"Nettle no. 18", "Its page tells why."}));
  BOOST_TEST(!says(people(), "Bracken"));
  BOOST_TEST(in_order(section("Every engine"), {"Bracken no. 18", "through before", "Nettle no. 18", "through before",
                                                "Heather & Co no. 18", "2 of 2", "Sparrow", "not begun"}));
  BOOST_TEST(says(summary(), "5 engines: 3 worked on, 1 of them needs a person, 2 not begun."));
}

BOOST_AUTO_TEST_CASE(while_it_works_it_says_so) {
  results = {good()};
  const std::string body = page("", false);
  BOOST_TEST(says(body, "still at work"));
  BOOST_TEST(in_order(section("Every engine"), {"Bracken", "2 of 2", "Nettle no. 18", "at work on it", "Heather"}));
  BOOST_TEST(!says(section("Still to come"), "Nettle"));
  BOOST_TEST(says(section("Still to come"), "Heather"));
  BOOST_TEST(!says(body, "Nothing needs a person."));
}

BOOST_AUTO_TEST_CASE(no_engine_can_have_its_name) {
  const TemporaryFolder folder;
  EngineRecord engine;
  engine.name = "Morning-page";
  BOOST_TEST(file_stem(engine) + ".html" != morning_page_name);
  RealStorage storage;
  write_morning_page(storage, folder.path() / "made", {"Quillmoor", turns(), "", true, ""});
  BOOST_TEST(std::filesystem::exists(folder.path() / "made" / "morning-page.html"));
}

BOOST_AUTO_TEST_SUITE_END()
