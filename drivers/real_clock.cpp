#include "drivers/real_clock.h"

#include <time.h>  // clock_gettime is POSIX

#include <algorithm>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {
namespace asio = boost::asio;
namespace {

Duration reading_of(clockid_t clock) {
  timespec now{};
  ::clock_gettime(clock, &now);
  return std::chrono::seconds(now.tv_sec) + std::chrono::nanoseconds(now.tv_nsec);
}

}  // namespace

Duration RealClock::suspended() const {
  const Duration counted = reading_of(CLOCK_MONOTONIC);
  return std::max(reading_of(CLOCK_BOOTTIME) - counted, Duration{});
}

asio::awaitable<bool> RealClock::sleep_on(asio::steady_timer& alarm, Instant deadline) {
  alarm.expires_at(deadline);
  const auto [error] = co_await alarm.async_wait(asio::as_tuple(asio::use_awaitable));
  co_return !error;
}

}  // namespace lapwright
