#include "drivers/wired_rig.h"

#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration between_turnouts = std::chrono::milliseconds(250);

}  // namespace

/// One after another: point motors are fed from one supply.
asio::awaitable<void> WiredRig::set_route(int route) {
  if (routes_ == nullptr || route < 0 || static_cast<std::size_t>(route) >= routes_->orders.size()) {
    throw RigFault("the configuration describes no turnouts for route " + std::to_string(route));
  }
  for (const TurnoutOrder& order : routes_->orders[static_cast<std::size_t>(route)]) {
    co_await station_.set_turnout(order);
    co_await clock_->sleep_for(between_turnouts);
  }
  co_await clock_->sleep_for(routes_->settling);
}

asio::awaitable<void> WiredRig::set_power(bool on) {
  if (!on) {
    co_await switch_off();
    co_return;
  }
  co_await station_.set_power(true);
  if (board_ != nullptr) co_await board_->set_power(true);
}

void WiredRig::cut() {
  if (board_ != nullptr) board_->cut();
  station_.send_power_off();
}

/// What the board saw at the track itself says more than a station that went with it.
std::optional<Stop> WiredRig::lost() const {
  std::optional<Stop> at_track = board_ != nullptr ? board_->lost() : std::nullopt;
  if (at_track && at_track->reason != StopReason::rig_lost) return at_track;
  std::optional<Stop> at_station = station_.lost();
  return at_station ? at_station : at_track;
}

asio::awaitable<void> WiredRig::switch_off() {
  std::string trouble;
  bool dead = false;
  if (board_ != nullptr) {
    try {
      co_await board_->set_power(false);
      dead = true;
    } catch (const RigFault& fault) {
      trouble = fault.what();
    }
  }
  try {
    co_await station_.set_power(false);
    dead = true;
  } catch (const RigFault& fault) {
    trouble += (trouble.empty() ? "" : "; ") + std::string(fault.what());
  }
  if (!dead) throw RigFault(trouble);
}

}  // namespace lapwright
