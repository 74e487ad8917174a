#include "drivers/wired_rig.h"

#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;

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
