#include "tuning/clock.h"

#include <boost/asio/error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/system/system_error.hpp>

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<void> Clock::sleep_until(Instant deadline) {
  const auto executor = co_await asio::this_coro::executor;
  asio::steady_timer alarm(executor);
  const bool slept = co_await sleep_on(alarm, deadline);
  if (!slept) throw boost::system::system_error(asio::error::operation_aborted);
}

}  // namespace lapwright
