// The time of day that people live by; it may be set, so nothing is measured with it.
#pragma once

#include <ctime>
#include <string>

namespace lapwright {

class Calendar {
 public:
  virtual ~Calendar() = default;
  /// Seconds of the Unix epoch.
  [[nodiscard]] virtual std::time_t now() const = 0;
};

class RealCalendar final : public Calendar {
 public:
  [[nodiscard]] std::time_t now() const override { return std::time(nullptr); }
};

/// "2026-11-27", the local date.
[[nodiscard]] std::string date_text(std::time_t at);
/// "2026-11-27 02:14:09 +0100", local time.
[[nodiscard]] std::string time_text(std::time_t at);

}  // namespace lapwright
