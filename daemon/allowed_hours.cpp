#include "daemon/allowed_hours.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <cstdint>

namespace lapwright {
namespace {

constexpr std::time_t minute_s = 60;
constexpr std::time_t widest_change_s = 10'800;  // of local time against UTC, at one night's change of the clocks

std::tm local(std::time_t at) {
  std::tm result{};
  ::localtime_r(&at, &result);
  return result;
}

/// Rises with local time, in minutes; not evenly over the ends of months.
std::int64_t civil(const std::tm& at) {
  return ((((at.tm_year * 12LL) + at.tm_mon) * 32 + at.tm_mday) * 24 + at.tm_hour) * 60 + at.tm_min;
}

/// The first moment at which clocks on that local date show so many minutes after midnight, or more.
std::time_t moment(std::tm date, int days_later, int minutes) {
  date.tm_mday += days_later;
  date.tm_hour = 0;
  date.tm_min = minutes;
  date.tm_sec = 0;
  const std::time_t as_utc = ::timegm(&date);  // makes the date a real one, too
  const std::int64_t wanted = civil(date);
  std::time_t at = as_utc - local(as_utc).tm_gmtoff - widest_change_s;
  while (civil(local(at)) < wanted) at += minute_s;
  return at;
}

std::string clock_text(int minutes) { return fmt::format("{:02}:{:02}", minutes / 60, minutes % 60); }

struct Span {
  std::time_t from;
  std::time_t to;
};

Span span(const HourWindow& window, const std::tm& today, int days_later) {
  const bool over_midnight = window.to_min <= window.from_min;
  return {moment(today, days_later, window.from_min),
          moment(today, days_later + (over_midnight ? 1 : 0), window.to_min)};
}

bool within_one(const std::vector<HourWindow>& windows, std::time_t now) {
  const std::tm today = local(now);
  for (const HourWindow& window : windows) {
    for (const int days_later : {-1, 0}) {
      const Span allowed = span(window, today, days_later);
      if (allowed.from <= now && now < allowed.to) return true;
    }
  }
  return false;
}

/// `now` itself within one of them.
std::time_t next_of(const std::vector<HourWindow>& windows, std::time_t now) {
  if (within_one(windows, now)) return now;
  const std::tm today = local(now);
  std::optional<std::time_t> next;
  for (const HourWindow& window : windows) {
    for (const int days_later : {0, 1}) {
      const std::time_t start = span(window, today, days_later).from;
      if (start > now) next = std::min(start, next.value_or(start));
    }
  }
  return next.value_or(now);
}

bool covers(const HourWindow& window, int minute) {
  const bool over_midnight = window.to_min <= window.from_min;
  const bool after = minute >= window.from_min;
  const bool before = minute < window.to_min;
  return over_midnight ? after || before : after && before;
}

constexpr int minutes_of_day = 24 * 60;
constexpr int most_starts = 1000;  // that are looked at for one at which all windows are open

}  // namespace

AllowedHours AllowedHours::and_within(const AllowedHours& other) const {
  AllowedHours both = *this;
  both.sets_.insert(both.sets_.end(), other.sets_.begin(), other.sets_.end());
  return both;
}

bool AllowedHours::never() const {
  const auto open = [&](int minute) {
    return std::all_of(sets_.begin(), sets_.end(), [&](const Windows& windows) {
      return std::any_of(windows.begin(), windows.end(), [&](const HourWindow& each) { return covers(each, minute); });
    });
  };
  for (int minute = 0; minute < minutes_of_day; ++minute) {
    if (open(minute)) return false;
  }
  return true;
}

bool AllowedHours::contains(std::time_t now) const {
  return std::all_of(sets_.begin(), sets_.end(), [&](const Windows& windows) { return within_one(windows, now); });
}

/// Where one set opens at an hour at which another is shut, that one's next hour is the next to be looked at.
std::time_t AllowedHours::next_start(std::time_t now) const {
  std::time_t start = now;
  for (int looked_at = 0; looked_at < most_starts && !contains(start); ++looked_at) {
    for (const Windows& windows : sets_) start = next_of(windows, start);
  }
  return start;
}

std::string AllowedHours::text() const {
  std::string result;
  for (const Windows& windows : sets_) {
    std::string one;
    for (const HourWindow& window : windows) {
      one += (one.empty() ? "" : ", ") + clock_text(window.from_min) + "-" + clock_text(window.to_min);
    }
    result += (result.empty() ? "" : " and within ") + one;
  }
  return result;
}

std::optional<int> minutes_of(const std::string& text) {
  const auto digit = [&](std::size_t at) { return text[at] >= '0' && text[at] <= '9'; };
  if (text.size() != 5 || text[2] != ':' || !digit(0) || !digit(1) || !digit(3) || !digit(4)) return std::nullopt;
  const int hours = (text[0] - '0') * 10 + (text[1] - '0');
  const int minutes = (text[3] - '0') * 10 + (text[4] - '0');
  if (hours > 23 || minutes > 59) return std::nullopt;
  return hours * 60 + minutes;
}

}  // namespace lapwright
