#include "tests/schedules/host.h"

namespace lapwright::schedules {
namespace asio = boost::asio;

asio::awaitable<void> Host::awake() {
  while (frozen()) co_await world_.sleep_until(wakes_at_);
}

asio::awaitable<bool> Host::sleep_on(asio::steady_timer& alarm, Instant deadline) {
  bool due = co_await world_.sleep_on(alarm, deadline);
  while (due && frozen()) due = co_await world_.sleep_on(alarm, wakes_at_);
  co_return due;
}

}  // namespace lapwright::schedules
