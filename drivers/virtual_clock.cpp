#include "drivers/virtual_clock.h"

#include <algorithm>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {
namespace asio = boost::asio;

/// Somebody's place among those who sleep, for as long as they do.
class VirtualClock::Sleeper {
 public:
  Sleeper(VirtualClock& clock, Instant deadline, asio::steady_timer& alarm)
      : clock_(clock), alarm_(alarm), place_(clock.sleepers_.emplace(deadline, this)) {
    alarm_.expires_at(asio::steady_timer::time_point::max());  // rung by hand, never due by itself
  }
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

 private:
  VirtualClock& clock_;
  asio::steady_timer& alarm_;
  std::multimap<Instant, Sleeper*>::iterator place_;
  bool due_ = false;
};

asio::awaitable<bool> VirtualClock::sleep_on(asio::steady_timer& alarm, Instant deadline) {
  const Sleeper sleeper(*this, std::max(deadline, now_), alarm);
  co_await alarm.async_wait(asio::as_tuple(asio::use_awaitable));
  co_return sleeper.due();
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
