// A whole shift and the clock on the wall: it waits for the allowed hours, ends with them in good order, and goes on in
// the next night; and what a rule lets be tried again. Times of day are UTC here.
#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include "daemon/configuration.h"
#include "daemon/shift.h"
#include "daemon/simulated_stand.h"
#include "tests/shifts/guarded_night.h"
#include "tests/temporary_folder.h"

namespace lapwright::shifts {
namespace {

/// Notes when engines begin and end, and what the shift waits for.
class Diary : public ShiftObserver {
 public:
  explicit Diary(const Calendar& calendar) : calendar_(calendar) {}
  void engine_begins(const Job& job, int, int) override { note(title(job.record) + " begins"); }
  void engine_ends(const Job& job, const JobResult& result) override {
    note(title(job.record) + " ends: " + (result.stop ? std::string(code(result.stop->reason)) : "no stop"));
  }
  void waits(const std::string& why) override {
    if (!why.empty()) note("waits");
  }
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
  std::vector<std::string> lines;

 private:
  void note(const std::string& what) { lines.push_back(time_text(calendar_.now()).substr(8, 8) + " " + what); }
  const Calendar& calendar_;
};

/// Keeps what the morning page says whenever an engine begins.
class PageReader final : public Diary {
 public:
  PageReader(const Calendar& calendar, std::filesystem::path page) : Diary(calendar), page_(std::move(page)) {}
  void engine_begins(const Job& /*job*/, int /*number*/, int /*of*/) override {
    std::stringstream text;
    text << std::ifstream(page_).rdbuf();
    seen.push_back(text.str());
  }
  std::vector<std::string> seen;

 private:
  std::filesystem::path page_;
};

boost::test_tools::assertion_result soon_over(boost::unit_test::test_unit_id) { return !slow_run(); }

struct WallClock {
  WallClock() {
    ::setenv("TZ", "UTC0", 1);
    ::tzset();
    configuration.reports = folder.path() / "reports";
  }
  ShiftResult run(std::size_t engines) { return run(engines, diary); }
  ShiftResult run(std::size_t engines, ShiftObserver& observer) {
    std::vector<Job> jobs = plan_shift(configuration);
    jobs.resize(engines);
    const Shift shift{configuration.railway, jobs, configuration.limits, hours, configuration.reports};
    ShiftBook book(journal, calendar);
    if (!book.goes_on(jobs)) book.begin(jobs);
    const ShiftMeans means{stand, clock, calendar, memory, book, button, observer, set_down};
    std::optional<ShiftResult> outcome;
    context.restart();
    boost::asio::co_spawn(context, run_shift(shift, 0, means),
                          [&](const std::exception_ptr& failure, ShiftResult result) {
                            if (failure) std::rethrow_exception(failure);
                            outcome = std::move(result);
                          });
    BOOST_REQUIRE((clock.run(context, seconds(7 * 86400)) == VirtualClock::Outcome::finished));
    return outcome.value();
  }

  TemporaryFolder folder;
  Configuration configuration = load_configuration(LAPWRIGHT_CONFIGS "/demo.json");
  VirtualClock clock;
  VirtualCalendar calendar{clock, 1'795'132'800 + 21 * 3600 + 50 * 60};  // 2026-11-20, 21:50
  AllowedHours hours;
  SimulatedStand stand{configuration.rig, clock};
  RealStorage storage;
  ShiftMemory memory{storage, folder.path() / "state", calendar, RunningCaps{}, RetryRule{}};
  InlineWorker worker;
  Journal journal{storage, worker, folder.path() / "state" / "journal", calendar};
  StopButton button;
  Diary diary{calendar};
  bool set_down = false;  ///< a person has just done so, and cleared
  boost::asio::io_context context;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(wall_clock, WallClock)

BOOST_AUTO_TEST_CASE(a_shift_begins_with_its_hours) {
  hours = AllowedHours({HourWindow{22 * 60, 6 * 60}});
  const ShiftResult result = run(2);
  BOOST_TEST(!result.needs_person);
  BOOST_TEST(result.next == 2U);
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
  BOOST_TEST(result.results.at(0).tune.track_s < 10 * 60);
}

// On a shuttle nobody knows where it stands after a break: it waits for a person, and then begins anew.
BOOST_AUTO_TEST_CASE(on_a_shuttle_a_person_sets_it_down_first, *boost::unit_test::precondition(soon_over)) {
  configuration.track.shape = configuration.rig.railway.shape = TrackShape::shuttle;
  hours = AllowedHours({HourWindow{22 * 60, 22 * 60 + 5}});
  const ShiftResult broken = run(1);
  BOOST_TEST(broken.trouble.find("set it down before the first gate") != std::string::npos, broken.trouble);
  BOOST_TEST(broken.rig_lost);
  BOOST_TEST(broken.needs_person);
  BOOST_TEST(broken.next == 0U);
  const std::size_t told = diary.lines.size();
  const ShiftResult still = run(1);
  BOOST_TEST(still.trouble == broken.trouble);
  BOOST_TEST(std::none_of(diary.lines.begin() + static_cast<std::ptrdiff_t>(told), diary.lines.end(),
                          [](const std::string& line) { return line.ends_with("begins"); }));
  hours = AllowedHours();
  set_down = true;
  const ShiftResult whole = run(1);
  BOOST_TEST(whole.trouble.empty(), whole.trouble);
  BOOST_REQUIRE(whole.results.size() == 1U);
  const JobResult& result = whole.results.front();
  BOOST_TEST(!whole.needs_person, result.tune.detail + (result.stop ? result.stop->sentence : ""));
}

// So short a window that a week of them is not enough: then a person is wanted.
BOOST_AUTO_TEST_CASE(but_not_for_ever, *boost::unit_test::precondition(soon_over)) {
  hours = AllowedHours({HourWindow{22 * 60, 22 * 60 + 1}});
  const ShiftResult result = run(1);
  BOOST_TEST(std::count_if(diary.lines.begin(), diary.lines.end(),
                           [](const std::string& line) { return line.ends_with("ends: hours-over"); }) == 7);
  BOOST_TEST(result.needs_person);
  BOOST_TEST(result.results.at(0).owed.empty());
  BOOST_TEST(!memory.trip().has_value());  // nothing tripped: nobody has to clear it
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
