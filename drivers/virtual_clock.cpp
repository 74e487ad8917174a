#include "drivers/virtual_clock.h"

#include <algorithm>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

namespace lapwright {
namespace asio = boost::asio;

class VirtualClock::Sleeper {
 public:
  Sleeper(VirtualClock& clock, Instant deadline, const asio::any_io_executor& executor)
      : clock_(clock),
        alarm_(executor, asio::steady_timer::time_point::max()),  // rung by hand, never due by itself
        place_(clock.sleepers_.emplace(deadline, this)) {}
  ~Sleeper() {
    if (!due_) clock_.sleepers_.erase(place_);
  }
  Sleeper(const Sleeper&) = delete;
  Sleeper& operator=(const Sleeper&) = delete;

  void ring() {
    due_ = true;
    clock_.sleepers_.erase(place_);
    alarm_.cancel();
  }
  [[nodiscard]] bool due() const { return due_; }
  asio::steady_timer& alarm() { return alarm_; }

 private:
  VirtualClock& clock_;
  asio::steady_timer alarm_;
  std::multimap<Instant, Sleeper*>::iterator place_;
  bool due_ = false;
};

asio::awaitable<void> VirtualClock::sleep_until(Instant deadline) {
  const auto executor = co_await asio::this_coro::executor;
  Sleeper sleeper(*this, std::max(deadline, now_), executor);
  const auto [error] = co_await sleeper.alarm().async_wait(asio::as_tuple(asio::use_awaitable));
  if (!sleeper.due()) throw boost::system::system_error(error);  // cancelled from outside
}

Instant VirtualClock::quiet_until() const {
  return sleepers_.empty() ? end_ : std::min(end_, sleepers_.begin()->first);
}

VirtualClock::Outcome VirtualClock::run(asio::io_context& context, Duration limit) {
  end_ = now_ + limit;
  for (;;) {
    context.poll();
    if (context.stopped()) return Outcome::finished;
    if (sleepers_.empty()) return Outcome::stalled;
    const auto [deadline, sleeper] = *sleepers_.begin();
    if (deadline > end_) {
      now_ = end_;
      return Outcome::time_is_up;
    }
    now_ = deadline;
    sleeper->ring();
  }
}

}  // namespace lapwright
