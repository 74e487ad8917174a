// The feed of the track as it truly is: the station's power, and the board's relay with a lease of its own.
#pragma once

#include <functional>
#include <vector>

#include "drivers/bell.h"

namespace lapwright::schedules {

/// From one change of the rails to the next.
struct FeedChange {
  Instant at;
  bool live = false;
};

/// The board's part needs no host: spawn `run`, and a lease that is not renewed opens the relay.
class Feed {
 public:
  /// @param on_change  makes the rails live or dead
  Feed(Clock& clock, std::function<void(bool)> on_change) : clock_(clock), on_change_(std::move(on_change)) {}
  boost::asio::awaitable<void> run();
  void stop();

  void set_station(bool on);
  void close_relay();  ///< only within a lease
  void open_relay();
  void renew() { lease_ends_ = clock_.now() + lease; }
  void weld(bool welded);

  [[nodiscard]] bool live() const { return live_; }
  [[nodiscard]] const std::vector<FeedChange>& changes() const { return changes_; }

  static constexpr Duration lease = std::chrono::milliseconds(400);

 private:
  void settle();

  Clock& clock_;
  std::function<void(bool)> on_change_;
  Bell bell_;  ///< rung when the relay moves, and at the end
  Instant lease_ends_{};
  bool station_ = false;
  bool relay_ = false;
  bool welded_ = false;
  bool live_ = false;
  bool stopped_ = false;
  std::vector<FeedChange> changes_;
};

}  // namespace lapwright::schedules
