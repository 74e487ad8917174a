// The machine's monotonic clock for procedures that run on real track.
#pragma once

#include "tuning/clock.h"

namespace lapwright {

class RealClock final : public Clock {
 public:
  [[nodiscard]] Instant now() const override { return std::chrono::steady_clock::now(); }
  boost::asio::awaitable<void> sleep_until(Instant deadline) override;
};

}  // namespace lapwright
