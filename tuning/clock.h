// Time as an argument: procedures wait on a Clock and never ask the machine for the time themselves.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>

namespace lapwright {

using Duration = std::chrono::nanoseconds;
using Instant = std::chrono::time_point<std::chrono::steady_clock, Duration>;

/// Monotonic time. The real clock sleeps, the virtual clock jumps from deadline to deadline.
class Clock {
 public:
  virtual ~Clock() = default;
  [[nodiscard]] virtual Instant now() const = 0;
  /// Sleeps on the caller's alarm: true at `deadline`, at once when it has passed; false when the alarm was cancelled
  /// before, be it by somebody who holds it or because the waiting coroutine was cancelled.
  virtual boost::asio::awaitable<bool> sleep_on(boost::asio::steady_timer& alarm, Instant deadline) = 0;
  /// Completes at `deadline`, at once when it has passed. Throws when the waiting coroutine is cancelled.
  boost::asio::awaitable<void> sleep_until(Instant deadline);
  /// Nobody who sleeps on this clock wakes before then. Only a virtual clock can look ahead; a real one answers
  /// `now()`.
  [[nodiscard]] virtual Instant quiet_until() const { return now(); }
  /// How long the machine itself slept so far: time that this clock does not count.
  [[nodiscard]] virtual Duration suspended() const { return {}; }
  boost::asio::awaitable<void> sleep_for(Duration length) { return sleep_until(now() + length); }
};

/// Seconds as a duration, rounded to the nanosecond.
[[nodiscard]] inline Duration seconds(double value_s) {
  return std::chrono::duration_cast<Duration>(std::chrono::duration<double>(value_s));
}

/// A duration as seconds.
[[nodiscard]] inline double in_seconds(Duration length) { return std::chrono::duration<double>(length).count(); }

}  // namespace lapwright
