#include "tests/schedules/feed.h"

namespace lapwright::schedules {
namespace asio = boost::asio;

asio::awaitable<void> Feed::run() {
  while (!stopped_) {
    if (!relay_) {
      co_await bell_.wait();
      continue;
    }
    const Instant due = lease_ends_;
    co_await bell_.wait_until(clock_, due);
    if (clock_.now() >= lease_ends_) open_relay();
  }
}

void Feed::stop() {
  stopped_ = true;
  bell_.ring();
}

void Feed::set_station(bool on) {
  station_ = on;
  settle();
}

void Feed::close_relay() {
  relay_ = clock_.now() < lease_ends_;
  settle();
  bell_.ring();
}

void Feed::open_relay() {
  relay_ = false;
  settle();
  bell_.ring();
}

void Feed::weld(bool welded) {
  welded_ = welded && relay_;  // contacts weld while they carry current
  settle();
}

void Feed::settle() {
  const bool live = station_ && (relay_ || welded_);
  if (live == live_) return;
  live_ = live;
  changes_.push_back({clock_.now(), live});
  on_change_(live);
}

}  // namespace lapwright::schedules
