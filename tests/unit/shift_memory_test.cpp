// What outlives a job and a restart: trips, tries that a rule allows, and running time. On real files.
#include "daemon/shift_memory.h"

#include <pwd.h>
#include <unistd.h>

#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include "daemon/exit_codes.h"
#include "daemon/store/durable_file.h"
#include "tests/temporary_folder.h"

using namespace lapwright;

namespace {

class FixedCalendar final : public Calendar {
 public:
  [[nodiscard]] std::time_t now() const override { return at; }
  std::time_t at = 1'795'000'000;  // some day in November 2026
};

struct Memory {
  TemporaryFolder folder;
  RealStorage storage;
  FixedCalendar calendar;
  RetryRule retry;

  [[nodiscard]] ShiftMemory memory() { return {storage, folder.path(), calendar, RunningCaps{}, retry}; }
  void put(const std::string& name, const std::string& text) const { std::ofstream(folder.path() / name) << text; }
  [[nodiscard]] std::string get(const std::string& name) const {
    std::stringstream all;
    all << std::ifstream(folder.path() / name).rdbuf();
    return all.str();
  }
  static Stop lost() { return Stop{StopReason::rig_lost, "the board is gone", {{"place", "after gate west"}}}; }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(shift_memory, Memory)

BOOST_AUTO_TEST_CASE(a_trip_outlives_a_restart_until_it_is_cleared) {
  BOOST_TEST(!memory().trip().has_value());
  BOOST_TEST(!memory().keep("Fellbeck no. 7", lost()));
  const std::optional<Trip> trip = memory().trip();
  BOOST_REQUIRE(trip);
  BOOST_TEST(trip->code == "rig-lost");
  BOOST_TEST(trip->engine == "Fellbeck no. 7");
  BOOST_TEST(trip->evidence.at(0).second == "after gate west");
  BOOST_TEST(!trip->again);
  BOOST_TEST(trip->at.find("2026-11-") == 0, trip->at);
  BOOST_TEST(trip_sentence(*trip).find("Fellbeck no. 7: the board is gone (2026-11-") == 0, trip_sentence(*trip));
  memory().clear();
  BOOST_TEST(!memory().trip().has_value());
  memory().clear();  // nothing there: nothing to do
}

BOOST_AUTO_TEST_CASE(tries_are_allowed_for_listed_causes_only_and_counted_over_restarts) {
  retry.causes = {"rig-lost"};
  retry.times = 2;
  BOOST_TEST(memory().keep("Fellbeck no. 7", lost()));
  BOOST_TEST(memory().trip()->again);
  BOOST_TEST(memory().keep("Fellbeck no. 7", lost()));
  BOOST_TEST(!memory().keep("Fellbeck no. 7", lost()));
  BOOST_TEST(!memory().trip()->again);
  memory().clear();
  BOOST_TEST(!memory().keep("Fellbeck no. 7", Stop{StopReason::over_current, "too much"}));
  BOOST_TEST(memory().keep("Tarn Lady no. 3", lost()));  // another engine, its own count
}

BOOST_AUTO_TEST_CASE(a_trip_that_can_not_be_read_is_one) {
  for (const char* text : {"", "{", "[]", R"({"schema":"lapwright trip","version":2,"sentence":"x"})",
                           R"({"schema":"lapwright trip","version":1})", R"({"schema":"another","version":1})"}) {
    put("trip.json", text);
    const std::optional<Trip> trip = memory().trip();
    BOOST_REQUIRE_MESSAGE(trip, text);
    BOOST_TEST(!trip->again);
    BOOST_TEST(trip->sentence.find("trip.json") != std::string::npos, trip->sentence);
  }
}

BOOST_AUTO_TEST_CASE(running_time_adds_up_by_day_and_engine_and_outlives_a_restart) {
  memory().ran("Fellbeck no. 7", 1000);
  memory().ran("Fellbeck no. 7", 500.25);
  memory().ran("Tarn Lady no. 3", 100);
  const std::vector<RunningCap> caps = memory().caps("Fellbeck no. 7");
  BOOST_REQUIRE(caps.size() == 3);
  BOOST_TEST(caps[0].left_s == 4 * 3600);
  BOOST_TEST(caps[1].left_s == 6 * 3600 - 1500.3, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(caps[2].left_s == 12 * 3600 - 1600.3, boost::test_tools::tolerance(1e-9));
  calendar.at += 24 * 3600;
  BOOST_TEST(memory().caps("Fellbeck no. 7")[1].left_s == 6 * 3600);
}

BOOST_AUTO_TEST_CASE(a_shift_adds_up_all_engines) {
  ShiftMemory one = memory();
  one.ran("Fellbeck no. 7", 1000);
  one.ran("Tarn Lady no. 3", 100);
  BOOST_TEST(one.caps("Thunder Gill no. 88")[2].left_s == 12 * 3600 - 1100);
}

// A service that is started anew has not rested the loop; the next shift begins with all of its time.
BOOST_AUTO_TEST_CASE(a_shifts_running_time_outlives_a_restart_and_ends_with_it) {
  ShiftMemory first = memory();
  first.take_up_shift(1'795'000'000);
  first.ran("Fellbeck no. 7", 1000);
  ShiftMemory again = memory();
  again.take_up_shift(1'795'000'000);
  again.ran("Tarn Lady no. 3", 100);
  BOOST_TEST(again.caps("Thunder Gill no. 88")[2].left_s == 12 * 3600 - 1100);
  again.take_up_shift(1'795'086'400);
  BOOST_TEST(again.caps("Thunder Gill no. 88")[2].left_s == 12 * 3600);
  BOOST_TEST(again.caps("Fellbeck no. 7")[1].left_s == 6 * 3600 - 1000);  // its day goes on
}

// Another try, the next work on the same engine or a restart of the service is no rest.
BOOST_AUTO_TEST_CASE(an_engine_is_as_tired_as_it_was_less_what_it_rested) {
  constexpr double recovers = 3;
  memory().ran("Fellbeck no. 7", 1500, 1500);
  BOOST_TEST(memory().tired_s("Fellbeck no. 7", recovers) == 1500);
  BOOST_TEST(memory().tired_s("Tarn Lady no. 3", recovers) == 0);
  calendar.at += 100;
  BOOST_TEST(memory().tired_s("Fellbeck no. 7", recovers) == 1200);
  calendar.at -= 5000;  // somebody sets the clock back
  BOOST_TEST(memory().tired_s("Fellbeck no. 7", recovers) == 1500);
  calendar.at += 6000;
  BOOST_TEST(memory().tired_s("Fellbeck no. 7", recovers) == 0);
}

BOOST_AUTO_TEST_CASE(running_times_that_can_not_be_read_are_refused_not_forgotten) {
  for (const char* text :
       {"", "[]", R"({"schema":"lapwright running time","version":1})",
        R"({"schema":"lapwright running time","version":9,"days_s":{}})",
        R"({"schema":"lapwright running time","version":1,"days_s":{"2026-11-01":5}})",
        R"({"schema":"lapwright running time","version":1,"days_s":{},"shift":{"id":"x","ran_s":1}})",
        R"({"schema":"lapwright running time","version":1,"days_s":{},"tired":{"Fellbeck no. 7":{"ran_s":5}}})",
        R"({"schema":"lapwright running time","version":1,"days_s":{"2026-11-01":{"x":"y"}}})"}) {
    put("running.json", text);
    BOOST_CHECK_THROW(static_cast<void>(memory()), FileLost);
    BOOST_TEST(get("running.json") == text);
  }
}

BOOST_AUTO_TEST_CASE(a_folder_that_can_not_be_written_is_named) {
  put("file", "no folder");
  const auto trouble = trouble_of_storage(storage, {folder.path(), folder.path() / "file"});
  BOOST_REQUIRE(trouble.has_value());
  BOOST_TEST(std::string(trouble->what()).find("file/.trial") != std::string::npos, trouble->what());
  BOOST_TEST(exit_of_file(trouble->error()) == exit_not_made);
  BOOST_TEST(!trouble_of_storage(storage, {folder.path() / "made"}));
  BOOST_TEST(!std::filesystem::exists(folder.path() / "made" / ".trial"));
}

/// Root may write everywhere: somebody else for a moment (65534 is "nobody" on Debian).
class AsSomebodyElse {
 public:
  AsSomebodyElse() { was_root_ = ::geteuid() == 0 && ::seteuid(65534) == 0; }
  ~AsSomebodyElse() {
    if (was_root_ && ::seteuid(0) != 0) std::abort();
  }
  AsSomebodyElse(const AsSomebodyElse&) = delete;
  AsSomebodyElse& operator=(const AsSomebodyElse&) = delete;

 private:
  bool was_root_ = false;
};

BOOST_AUTO_TEST_CASE(who_may_not_write_is_told_the_command_that_lets_him) {
  const std::filesystem::path closed = folder.path() / "closed";
  std::filesystem::create_directory(closed);
  namespace fs = std::filesystem;
  fs::permissions(folder.path(), static_cast<fs::perms>(0711), fs::perm_options::replace);
  fs::permissions(closed, static_cast<fs::perms>(0511), fs::perm_options::replace);
  std::optional<FileLost> trouble;
  std::string self;
  {
    const AsSomebodyElse somebody;
    trouble = trouble_of_storage(storage, {closed});
    self = ::getpwuid(::geteuid())->pw_name;
  }
  BOOST_REQUIRE(trouble.has_value());
  const std::string text = trouble->what();
  BOOST_TEST(exit_of_file(trouble->error()) == exit_not_allowed, text);
  BOOST_TEST(text.find(closed.string() + " belongs to user ") != std::string::npos, text);
  BOOST_TEST(text.find("runs as user " + self) != std::string::npos, text);
  BOOST_TEST(text.find("chown -R " + self + " " + closed.string()) != std::string::npos, text);
}

BOOST_AUTO_TEST_CASE(without_a_folder_it_remembers_as_long_as_it_lives) {
  ShiftMemory fleeting(storage, {}, calendar, RunningCaps{}, retry);
  fleeting.keep("Fellbeck no. 7", lost());
  fleeting.ran("Fellbeck no. 7", 10);
  BOOST_TEST(fleeting.trip().has_value());
  BOOST_TEST(fleeting.caps("Fellbeck no. 7")[1].left_s == 6 * 3600 - 10);
  fleeting.clear();
  BOOST_TEST(!fleeting.trip().has_value());
}

BOOST_AUTO_TEST_SUITE_END()
