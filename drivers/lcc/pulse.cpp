#include "drivers/lcc/pulse.h"

#include <algorithm>
#include <utility>

namespace lapwright::lcc {
namespace asio = boost::asio;
namespace {

constexpr int questions = 3;  // one of them, or its answer, may be lost
/// Where only the way back is broken, what makes the track dead still goes out; then the link is closed.
constexpr Duration time_for_stops = std::chrono::milliseconds(300);

}  // namespace

Pulse::Pulse(Node& node, Train& train, Duration silence, std::function<bool()> busy)
    : node_(node), train_(train), silence_(silence), busy_(std::move(busy)) {}

void Pulse::stop() {
  stopped_ = true;
  node_.bell().ring();
}

void Pulse::hear(const Message& message) {
  heard_any_ = node_.clock().now();
  if (train_.node_id() && node_.node_of(message.source) == train_.node_id()) heard_ = heard_any_;
}

asio::awaitable<void> Pulse::run() {
  while (!stopped_) {
    if (silence_ == Duration{} || !train_.ours()) {
      watching_ = false;
      co_await node_.bell().wait();
      continue;
    }
    const Instant now = node_.clock().now();
    if (!std::exchange(watching_, true) || busy_()) heard_ = now;
    const Instant limit = heard_ + silence_;
    if (now >= limit) {
      co_await give_up();
      continue;
    }
    const Instant due = std::min(std::max(heard_, asked_) + silence_ / questions, limit);
    if (now < due) {
      co_await node_.bell().wait_until(node_.clock(), due);
      continue;
    }
    asked_ = now;
    train_.ask_for_a_word();
  }
}

asio::awaitable<void> Pulse::give_up() {
  const Instant begun = heard_ + silence_ / questions;  // of the questions
  const int opening = node_.openings();
  const auto allowed_ms = std::chrono::duration_cast<std::chrono::milliseconds>(silence_).count();
  const std::string why = "the station said nothing of the engine for " + std::to_string(allowed_ms) +
                          " ms though it was asked; is it running, and is its cable or network in order?";
  train_.lose_controls(StopReason::rig_lost, why);
  co_await node_.clock().sleep_for(time_for_stops);
  if (heard_any_ < begun && node_.openings() == opening) node_.give_up(why);
}

}  // namespace lapwright::lcc
