// The computer that the service runs on, as a clock: it can be left without any computing time for a while.
#pragma once

#include "drivers/virtual_clock.h"

namespace lapwright::schedules {

/// While it is frozen nobody who sleeps on it wakes, and whoever answers the service waits for `awake` first. The world
/// outside goes on by the virtual clock.
class Host final : public Clock {
 public:
  explicit Host(VirtualClock& world) : world_(world) {}

  void freeze(Instant until) { wakes_at_ = until; }
  [[nodiscard]] bool frozen() const { return world_.now() < wakes_at_; }
  boost::asio::awaitable<void> awake();

  [[nodiscard]] Instant now() const override { return world_.now(); }
  boost::asio::awaitable<bool> sleep_on(boost::asio::steady_timer& alarm, Instant deadline) override;
  [[nodiscard]] Instant quiet_until() const override { return world_.quiet_until(); }

 private:
  VirtualClock& world_;
  Instant wakes_at_{};
};

}  // namespace lapwright::schedules
