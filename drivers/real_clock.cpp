#include "drivers/real_clock.h"

#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {

boost::asio::awaitable<void> RealClock::sleep_until(Instant deadline) {
  const auto executor = co_await boost::asio::this_coro::executor;
  boost::asio::steady_timer timer(executor, deadline);
  co_await timer.async_wait(boost::asio::use_awaitable);
}

}  // namespace lapwright
