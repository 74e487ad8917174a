// The feed of the track, as whoever makes it dead sees it.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>

#include "drivers/safety/stop_reason.h"

namespace lapwright {

/// The feed of the track: whatever can really cut it.
class TrackPower {
 public:
  virtual ~TrackPower() = default;
  virtual boost::asio::awaitable<void> set_power(bool on) = 0;
  // Both go out before everything queued, wait for nothing and never throw; `set_power(false)` sees it done.
  virtual void send_halt() = 0;  ///< emergency stop of the engine
  virtual void cut() = 0;        ///< power off
  /// Told at every look of the guard, many times a second: what keeps the feed closed by a lease renews it only while
  /// it hears this.
  virtual void vouch() = 0;
  /// Why the engine can't be commanded, or the feed not be cut, as it could when power was switched on: what a person
  /// or the board has stopped by their own reason, all else as `rig_lost`. Empty while all is well. Asked for often.
  [[nodiscard]] virtual std::optional<Stop> lost() const = 0;
  /// False: nobody tells whether the feed is open; that it was asked to be is all that is known.
  [[nodiscard]] virtual bool tells() const { return true; }
  /// How long the feed stays closed before it opens by itself, in seconds; empty: as long as it is told to.
  [[nodiscard]] virtual std::optional<double> left_s() const { return std::nullopt; }
};

}  // namespace lapwright
