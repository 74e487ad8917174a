#include "drivers/bell.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

namespace lapwright {
namespace asio = boost::asio;

namespace {
/// Takes its place in the list and leaves it, also when the coroutine is cancelled or destroyed.
class Place {
 public:
  Place(std::list<asio::steady_timer*>& list, asio::steady_timer& timer)
      : list_(list), at_(list.insert(list.end(), &timer)) {}
  ~Place() { list_.erase(at_); }
  Place(const Place&) = delete;
  Place& operator=(const Place&) = delete;
  [[nodiscard]] bool rung() const { return *at_ == nullptr; }

 private:
  std::list<asio::steady_timer*>& list_;
  std::list<asio::steady_timer*>::iterator at_;
};
}  // namespace

void Bell::ring() {
  for (asio::steady_timer*& timer : waiting_) {
    if (timer == nullptr) continue;
    timer->cancel();
    timer = nullptr;
  }
}

asio::awaitable<void> Bell::wait() {
  const auto executor = co_await asio::this_coro::executor;
  asio::steady_timer timer(executor, asio::steady_timer::time_point::max());
  const Place place(waiting_, timer);
  const auto [error] = co_await timer.async_wait(asio::as_tuple(asio::use_awaitable));
  if (!place.rung()) throw boost::system::system_error(error);  // cancelled from outside
}

asio::awaitable<void> Bell::wait_until(Clock& clock, Instant deadline) {
  const auto executor = co_await asio::this_coro::executor;
  asio::steady_timer timer(executor);
  const Place place(waiting_, timer);
  const bool due = co_await clock.sleep_on(timer, deadline);
  if (!due && !place.rung()) throw boost::system::system_error(asio::error::operation_aborted);
}

}  // namespace lapwright
