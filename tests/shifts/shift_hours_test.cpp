// A whole shift and the clock on the wall: it waits for the allowed hours, ends with them in good order, and goes on in
// the next night; and what a rule lets be tried again.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <sstream>

#include "tests/shifts/wall_clock.h"

namespace lapwright::shifts {
namespace {

/// Keeps what the morning page says whenever an engine begins.
class PageReader final : public WallDiary {
 public:
  PageReader(const Calendar& calendar, std::filesystem::path page) : WallDiary(calendar), page_(std::move(page)) {}
  void engine_begins(const Job& /*job*/, int /*number*/, int /*of*/) override {
    std::stringstream text;
    text << std::ifstream(page_).rdbuf();
    seen.push_back(text.str());
  }
  std::vector<std::string> seen;

 private:
  std::filesystem::path page_;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(wall_clock, WallClock)

BOOST_AUTO_TEST_CASE(a_shift_begins_with_its_hours) {
  hours = AllowedHours({HourWindow{22 * 60, 6 * 60}});
  const ShiftResult result = run(2);
  BOOST_TEST(!result.needs_person);
  BOOST_TEST(result.turns.size() == 2U);
  BOOST_REQUIRE(diary.lines.size() == 5U);
  BOOST_TEST(diary.lines[0] == "20 21:50 waits");
  BOOST_TEST(diary.lines[1] == "20 22:00 Fellbeck no. 7 begins");
  std::stringstream morning;
  morning << std::ifstream(configuration.reports / "morning-page.html").rdbuf();
  BOOST_TEST(morning.str().find("2 engines: 2 worked on.") != std::string::npos, morning.str());
  BOOST_TEST(morning.str().find(time_text(calendar.now())) != std::string::npos, morning.str());
}

// Whatever becomes of the program in the night, the page is there, and says that the engine has had its turn.
BOOST_AUTO_TEST_CASE(the_morning_page_is_there_from_the_beginning) {
  PageReader reader(calendar, configuration.reports / "morning-page.html");
  run(2, reader);
  BOOST_REQUIRE(reader.seen.size() == 2U);
  BOOST_TEST(reader.seen[0].find("2 engines: 0 worked on, one at work, 1 to come.") != std::string::npos,
             reader.seen[0]);
  BOOST_TEST(reader.seen[1].find("2 engines: 1 worked on, one at work.") != std::string::npos, reader.seen[1]);
  BOOST_TEST(reader.seen[1].find("Tarn Lady no. 3</td><td>Notched freight</td><td colspan=\"4\">at work on it") !=
                 std::string::npos,
             reader.seen[1]);
}

BOOST_AUTO_TEST_CASE(an_engine_that_is_not_through_goes_on_in_the_next_night) {
  hours = AllowedHours({HourWindow{22 * 60, 22 * 60 + 5}});
  const ShiftResult result = run(1);
  const std::vector<std::string> expected = {"20 21:50 waits", "20 22:00 Fellbeck no. 7 begins",
                                             "20 22:05 Fellbeck no. 7 ends: hours-over", "20 22:05 waits",
                                             "21 22:00 Fellbeck no. 7 begins"};
  BOOST_REQUIRE(diary.lines.size() == expected.size() + 1);
  BOOST_TEST(std::vector<std::string>(diary.lines.begin(), diary.lines.end() - 1) == expected,
             boost::test_tools::per_element());
  BOOST_TEST(!result.needs_person);
  // All in all little more than in one go: what was measured is not measured again.
  BOOST_TEST(result.turns.at(0).result.tune.track_s < 10 * 60);
}

// On a shuttle nobody knows where it stands after a break: it waits for a person, and then goes on.
BOOST_AUTO_TEST_CASE(on_a_shuttle_a_person_sets_it_down_first, *boost::unit_test::precondition(soon_over)) {
  configuration.track.shape = configuration.rig.railway.shape = TrackShape::shuttle;
  hours = AllowedHours({HourWindow{22 * 60, 22 * 60 + 5}});
  const ShiftResult broken = run(1);
  BOOST_TEST(broken.trouble.find("set it down before the first gate") != std::string::npos, broken.trouble);
  BOOST_TEST(broken.rig_lost);
  BOOST_TEST(broken.needs_person);
  const std::size_t told = diary.lines.size();
  const ShiftResult still = run(1);
  BOOST_TEST(still.trouble == broken.trouble);
  BOOST_TEST(std::none_of(diary.lines.begin() + static_cast<std::ptrdiff_t>(told), diary.lines.end(),
                          [](const std::string& line) { return line.ends_with("begins"); }));
  hours = AllowedHours();
  set_down = true;
  const Instant began = clock.now();
  const ShiftResult whole = run(1);
  BOOST_TEST(in_seconds(clock.now() - began) < 250);  // in one go it takes 450 s, and 300 were over
  BOOST_TEST(whole.trouble.empty(), whole.trouble);
  BOOST_REQUIRE(whole.turns.size() == 1U);
  const JobResult& result = whole.turns.front().result;
  BOOST_TEST(!whole.needs_person, result.tune.detail + (result.stop ? result.stop->sentence : ""));
}

// So short a window that a week of them is not enough: then a person is wanted.
BOOST_AUTO_TEST_CASE(but_not_for_ever, *boost::unit_test::precondition(soon_over)) {
  hours = AllowedHours({HourWindow{22 * 60, 22 * 60 + 1}});
  const ShiftResult result = run(1);
  BOOST_TEST(std::count_if(diary.lines.begin(), diary.lines.end(),
                           [](const std::string& line) { return line.ends_with("ends: hours-over"); }) == 7);
  BOOST_TEST(result.needs_person);
  BOOST_TEST(result.turns.at(0).result.owed.empty());
  BOOST_TEST(!memory.trip().has_value());  // nothing tripped: nobody has to clear it
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
