// The owner's hours in local time. Daylight changes as Directive 2000/84/EC sets them: in the European Union summer
// time begins on the last Sunday of March and ends on the last Sunday of October, both at 01:00 UTC. The zone is
// written as POSIX.1-2017 (Base Definitions, 8.3) defines TZ, so that no table of the machine is needed.
#include "daemon/allowed_hours.h"

#include <boost/test/unit_test.hpp>
#include <cstdlib>

#include "daemon/calendar.h"

using namespace lapwright;

namespace {

constexpr std::time_t hour_s = 3600;

struct CentralEurope {
  CentralEurope() { use("CET-1CEST,M3.5.0,M10.5.0/3"); }
  ~CentralEurope() { use(""); }
  static void use(const char* zone) {
    ::setenv("TZ", zone, 1);
    ::tzset();
  }
  static std::time_t utc(int month, int day, int hour, int minute = 0) {
    std::tm date{};
    date.tm_year = 126;
    date.tm_mon = month - 1;
    date.tm_mday = day;
    date.tm_hour = hour;
    date.tm_min = minute;
    return ::timegm(&date);
  }
  static AllowedHours hours(const char* from, const char* to) {
    return AllowedHours({HourWindow{*minutes_of(from), *minutes_of(to)}});
  }
  /// Seconds of a span in which the hours allow work, looked at minute by minute.
  static std::time_t allowed_s(const AllowedHours& hours, std::time_t from, std::time_t to) {
    std::time_t sum = 0;
    for (std::time_t at = from; at < to; at += 60) sum += hours.contains(at) ? 60 : 0;
    return sum;
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(allowed_hours, CentralEurope)

BOOST_AUTO_TEST_CASE(no_hours_mean_always) {
  const AllowedHours none;
  BOOST_TEST(none.always());
  BOOST_TEST(none.contains(utc(1, 10, 3)));
  BOOST_TEST(none.next_start(utc(1, 10, 3)) == utc(1, 10, 3));
}

BOOST_AUTO_TEST_CASE(a_night_reaches_over_midnight) {
  const AllowedHours night = hours("22:00", "06:30");
  BOOST_TEST(night.text() == "22:00-06:30");
  BOOST_TEST(!night.contains(utc(1, 10, 20, 59)));  // 21:59 local
  BOOST_TEST(night.contains(utc(1, 10, 21)));
  BOOST_TEST(night.contains(utc(1, 11, 5, 29)));
  BOOST_TEST(!night.contains(utc(1, 11, 5, 30)));
  BOOST_TEST(night.next_start(utc(1, 11, 5, 30)) == utc(1, 11, 21));
  BOOST_TEST(night.next_start(utc(1, 11, 2)) == utc(1, 11, 2));
}

BOOST_AUTO_TEST_CASE(several_windows_and_a_whole_day) {
  const AllowedHours two({HourWindow{12 * 60, 13 * 60}, HourWindow{22 * 60, 23 * 60}});
  BOOST_TEST(two.contains(utc(7, 1, 10, 30)));  // 12:30 summer time
  BOOST_TEST(two.next_start(utc(7, 1, 11, 30)) == utc(7, 1, 20));
  BOOST_TEST(two.next_start(utc(7, 1, 21)) == utc(7, 2, 10));
  BOOST_TEST(hours("06:00", "06:00").contains(utc(7, 1, 3, 59)));
  BOOST_TEST(allowed_s(hours("06:00", "06:00"), utc(7, 1, 0), utc(7, 2, 0)) == 24 * hour_s);
  BOOST_TEST(two.text() == "12:00-13:00, 22:00-23:00");
}

// A shift's hours within the owner's: 22:00 to 23:00 and 05:00 to 06:30 are left of the night.
BOOST_AUTO_TEST_CASE(two_sets_of_hours_both_have_to_allow_it) {
  const AllowedHours night = hours("22:00", "06:30");
  const AllowedHours both = night.and_within(hours("05:00", "23:00"));
  BOOST_TEST(both.text() == "22:00-06:30 and within 05:00-23:00");
  BOOST_TEST(allowed_s(both, utc(1, 10, 12), utc(1, 11, 12)) == 2.5 * hour_s);
  BOOST_TEST(!both.never());
  BOOST_TEST(both.next_start(utc(1, 10, 12)) == utc(1, 10, 21));
  BOOST_TEST(both.next_start(utc(1, 10, 22, 30)) == utc(1, 11, 4));  // 23:30 local: the next is at 05:00
  BOOST_TEST(both.next_start(utc(1, 11, 5, 40)) == utc(1, 11, 21));
  BOOST_TEST(night.and_within(hours("06:30", "22:00")).never());
  BOOST_TEST(!night.and_within(AllowedHours()).never());
  BOOST_TEST(night.and_within(AllowedHours()).text() == night.text());
  BOOST_TEST(AllowedHours().and_within(night).text() == night.text());
}

BOOST_AUTO_TEST_CASE(summer_time_begins_and_ends_in_the_night) {
  const AllowedHours night = hours("22:00", "06:30");
  // 29 March 2026: the night is an hour short; 25 October 2026: an hour long. Local clocks rule both edges.
  BOOST_TEST(allowed_s(night, utc(3, 28, 12), utc(3, 29, 12)) == 7.5 * hour_s);
  BOOST_TEST(allowed_s(night, utc(10, 24, 12), utc(10, 25, 12)) == 9.5 * hour_s);
  BOOST_TEST(!night.contains(utc(3, 29, 4, 30)));  // 06:30 summer time
  BOOST_TEST(night.contains(utc(3, 29, 4, 29)));
  BOOST_TEST(!night.contains(utc(10, 25, 5, 30)));  // 06:30 winter time
  BOOST_TEST(night.contains(utc(10, 25, 5, 29)));
}

BOOST_AUTO_TEST_CASE(an_edge_in_the_hour_that_the_clocks_skip) {
  const AllowedHours until = hours("22:00", "02:30");
  BOOST_TEST(until.contains(utc(3, 29, 0, 59)));  // 01:59, the last minute before 03:00
  BOOST_TEST(!until.contains(utc(3, 29, 1)));     // 03:00
  const AllowedHours from = hours("02:30", "05:00");
  BOOST_TEST(!from.contains(utc(3, 29, 0, 59)));
  BOOST_TEST(from.contains(utc(3, 29, 1)));
  BOOST_TEST(from.next_start(utc(3, 28, 22)) == utc(3, 29, 1));
}

BOOST_AUTO_TEST_CASE(an_edge_in_the_hour_that_they_repeat_counts_once) {
  const AllowedHours until = hours("22:00", "02:30");
  BOOST_TEST(until.contains(utc(10, 25, 0, 29)));   // 02:29 summer time
  BOOST_TEST(!until.contains(utc(10, 25, 0, 30)));  // 02:30 summer time
  BOOST_TEST(!until.contains(utc(10, 25, 1, 10)));  // 02:10 again: the window does not open a second time
  BOOST_TEST(allowed_s(until, utc(10, 24, 12), utc(10, 25, 12)) == 4.5 * hour_s);
}

BOOST_AUTO_TEST_CASE(times_of_day_are_read_strictly) {
  BOOST_TEST(minutes_of("06:30").value() == 390);
  BOOST_TEST(minutes_of("23:59").value() == 1439);
  for (const char* wrong : {"6:30", "24:00", "12:60", "12.30", "12:3", "ab:cd", "", "12:300"}) {
    BOOST_TEST(!minutes_of(wrong).has_value(), wrong);
  }
}

BOOST_AUTO_TEST_SUITE_END()
