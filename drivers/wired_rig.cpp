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

std::string WiredRig::why_lost() const {
  std::string why = station_.why_lost();
  if (why.empty() && board_ != nullptr) why = board_->trouble();
  return why;
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
