// A calendar that stands, for tests in which the time of day means nothing.
#pragma once

#include "daemon/calendar.h"

namespace lapwright {

class FixedCalendar final : public Calendar {
 public:
  explicit FixedCalendar(std::time_t now = 1'795'000'000) : now_(now) {}
  [[nodiscard]] std::time_t now() const override { return now_; }

 private:
  std::time_t now_;
};

}  // namespace lapwright
