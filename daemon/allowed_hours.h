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
  explicit AllowedHours(std::vector<HourWindow> windows = {}) : windows_(std::move(windows)) {}

  [[nodiscard]] bool always() const { return windows_.empty(); }
  [[nodiscard]] bool contains(std::time_t now) const;
  /// When work may begin next; `now` itself within the hours.
  [[nodiscard]] std::time_t next_start(std::time_t now) const;
  /// "22:00-06:30, 12:00-13:00".
  [[nodiscard]] std::string text() const;

 private:
  std::vector<HourWindow> windows_;
};

/// "06:30"; empty for anything else.
[[nodiscard]] std::optional<int> minutes_of(const std::string& text);

}  // namespace lapwright
