// A clock that jumps from deadline to deadline: whole nights rehearse in seconds, exactly and repeatably.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <map>

#include "tuning/clock.h"

namespace lapwright {

/// Single-threaded. Declare it before the io_context whose coroutines sleep on it. No real I/O in a virtual run.
class VirtualClock final : public Clock {
 public:
  enum class Outcome : std::uint8_t {
    finished,    ///< nothing is left to do
    stalled,     ///< somebody waits for what can no longer happen
    time_is_up,  ///< the limit came first
  };
  [[nodiscard]] Instant now() const override { return now_; }
  boost::asio::awaitable<bool> sleep_on(boost::asio::steady_timer& alarm, Instant deadline) override;
  [[nodiscard]] Instant quiet_until() const override;
  [[nodiscard]] Duration suspended() const override { return suspended_; }
  /// As if the machine had slept for so long just now: nobody's deadline comes nearer by it.
  void suspend(Duration length) { suspended_ += length; }
  /// Runs `context` until it has no work, or virtual time has advanced by `limit`.
  Outcome run(boost::asio::io_context& context, Duration limit);

 private:
  class Sleeper;
  Instant now_{};
  Duration suspended_{};
  Instant end_{};                              // of the present run
  std::multimap<Instant, Sleeper*> sleepers_;  // equal deadlines: first in, first out
};

}  // namespace lapwright
