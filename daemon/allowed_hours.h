// The hours of the day in which the owner lets engines run.
#pragma once

#include <ctime>
#include <optional>
#include <string>
#include <vector>

namespace lapwright {

/// Minutes since local midnight, 0 … 1439. An end that is not after the start belongs to the next day.
struct HourWindow {
  int from_min = 0;
  int to_min = 0;
};

/// Local time, by the system's time zone. An hour that the clocks skip begins and ends where they go on; one that they
/// repeat counts once: a window that ended in it does not open again.
class AllowedHours {
 public:
  /// @param windows  none: always
  AllowedHours() = default;
  explicit AllowedHours(std::vector<HourWindow> windows) {
    if (!windows.empty()) sets_.push_back(std::move(windows));
  }
  /// Only when both allow it.
  [[nodiscard]] AllowedHours and_within(const AllowedHours& other) const;

  [[nodiscard]] bool always() const { return sets_.empty(); }
  /// No minute of a day lies within all of them.
  [[nodiscard]] bool never() const;
  [[nodiscard]] bool contains(std::time_t now) const;
  /// When work may begin next; `now` itself within the hours.
  [[nodiscard]] std::time_t next_start(std::time_t now) const;
  /// "22:00-06:30, 12:00-13:00"; "… and within …" where several have to allow it.
  [[nodiscard]] std::string text() const;

 private:
  using Windows = std::vector<HourWindow>;
  std::vector<Windows> sets_;  ///< one window of each
};

/// "06:30"; empty for anything else.
[[nodiscard]] std::optional<int> minutes_of(const std::string& text);

}  // namespace lapwright
