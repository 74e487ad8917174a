// The command station's part of a rig: one engine's throttle, its CVs on the main, track power, turnouts.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <optional>

#include "drivers/dcc/address.h"
#include "drivers/safety/stop_reason.h"
#include "drivers/turnout.h"
#include "tuning/rig.h"

namespace lapwright {

/// Every operation throws RigFault when the station refuses, stays silent beyond its deadline, or is lost; the text
/// says what, where and what to do.
class Station {
 public:
  virtual ~Station() = default;
  /// Takes the engine's controls. Before anything but `set_power`; again after the link was lost.
  virtual boost::asio::awaitable<void> take(dcc::VehicleAddress engine) = 0;
  /// Speed 0, then gives the controls back.
  virtual boost::asio::awaitable<void> give_back() = 0;
  virtual boost::asio::awaitable<void> drive(ThrottleCommand command) = 0;
  /// Emergency stop of the engine taken; goes before everything queued.
  virtual boost::asio::awaitable<void> halt() = 0;
  /// It has told at least once whether track power is on, as not every station does; from then on silence is a fault.
  [[nodiscard]] virtual bool tells_power() const = 0;
  /// Track power of the whole station.
  virtual boost::asio::awaitable<void> set_power(bool on) = 0;
  // The same without waiting for anything, before everything queued; neither throws.
  virtual void send_halt() = 0;
  virtual void send_power_off() = 0;
  /// Why the engine taken can't be commanded any more; empty while it can.
  [[nodiscard]] virtual std::optional<Stop> lost() const = 0;
  virtual boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) = 0;
  virtual boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) = 0;
  virtual boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) = 0;
  /// Completes when it is sent: nobody tells where the points lie.
  virtual boost::asio::awaitable<void> set_turnout(TurnoutOrder order) = 0;
};

}  // namespace lapwright
