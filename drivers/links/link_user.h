// What a link and the protocol driver at its end know of each other: bytes both ways, and the word that it is up or
// lost.
#pragma once

#include <string>
#include <string_view>

#include "tuning/clock.h"

namespace lapwright {

/// Where a protocol driver's bytes go. Nothing here waits: bytes are queued, at most 64 KiB.
class Outlet {
 public:
  virtual ~Outlet() = default;
  /// @throws RigFault  the link is down, or the queue is full because the other side takes nothing
  virtual void send(std::string_view bytes) = 0;
  /// Before everything that is still queued: for stops.
  virtual void send_first(std::string_view bytes) = 0;
  /// Instead of everything that is still queued, here and in the kernel where it can be taken back: for what must go
  /// out at once, whatever stands in its way.
  virtual void cut_in(std::string_view bytes) = 0;
  /// The link is of no use (the other side is silent or talks nonsense): it is closed, `lost` follows, then reopened.
  virtual void give_up(const std::string& why) = 0;
};

/// A protocol driver as its link sees it. All calls come from the one thread of the io_context and never from within
/// Outlet's; the outlet may be used from within them.
class LinkUser {
 public:
  virtual ~LinkUser() = default;
  /// The link is up; what was sent before is gone. The outlet stays valid until `lost`.
  virtual void opened(Outlet& outlet) = 0;
  /// At least one byte, in pieces that mean nothing. @param heard  when they were read
  virtual void received(std::string_view bytes, Instant heard) = 0;
  /// The link went down, for the reason given; it is opened again by itself.
  virtual void lost(const std::string& why) = 0;
};

}  // namespace lapwright
