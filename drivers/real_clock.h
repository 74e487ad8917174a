// The machine's monotonic clock for procedures that run on real track.
#pragma once

#include "tuning/clock.h"

namespace lapwright {

class RealClock final : public Clock {
 public:
  [[nodiscard]] Instant now() const override { return std::chrono::steady_clock::now(); }
  [[nodiscard]] Duration suspended() const override;
  boost::asio::awaitable<bool> sleep_on(boost::asio::steady_timer& alarm, Instant deadline) override;
};

}  // namespace lapwright
