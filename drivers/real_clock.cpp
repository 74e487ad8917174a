#include "drivers/real_clock.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<bool> RealClock::sleep_on(asio::steady_timer& alarm, Instant deadline) {
  alarm.expires_at(deadline);
  const auto [error] = co_await alarm.async_wait(asio::as_tuple(asio::use_awaitable));
  co_return !error;
}

}  // namespace lapwright
