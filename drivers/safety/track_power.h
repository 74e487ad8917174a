// The feed of the track, as whoever makes it dead sees it.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <string>

namespace lapwright {

/// The feed of the track: whatever can really cut it.
class TrackPower {
 public:
  virtual ~TrackPower() = default;
  virtual boost::asio::awaitable<void> set_power(bool on) = 0;
  // Both go out before everything queued, wait for nothing and never throw; `set_power(false)` sees it done.
  virtual void send_halt() = 0;  ///< emergency stop of the engine
  virtual void cut() = 0;        ///< power off
  /// Why the engine can't be commanded, or the feed not be cut, as it could when power was switched on; empty while all
  /// is well. Asked for often.
  [[nodiscard]] virtual std::string why_lost() const = 0;
};

}  // namespace lapwright
