// Wakes coroutines that wait for something to happen, at once or when a deadline passes.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>
#include <list>

#include "tuning/clock.h"

namespace lapwright {

/// Single-threaded. A ring wakes everybody who waits now; nothing is remembered for later.
class Bell {
 public:
  void ring();
  boost::asio::awaitable<void> wait();
  /// Returns after a ring or at the deadline, whichever is first.
  boost::asio::awaitable<void> wait_until(Clock& clock, Instant deadline);

 private:
  std::list<boost::asio::steady_timer*> waiting_;
};

}  // namespace lapwright
