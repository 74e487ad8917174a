#include "daemon/stop_button.h"

namespace lapwright {

boost::asio::awaitable<void> StopButton::make_dead(std::string who) {
  pressed_ = true;
  if (guard_ == nullptr && stand_ != nullptr) stand_->cut();
  if (guard_ != nullptr) {
    guard_->stop(Stop{StopReason::asked, who + " asked to make the track dead at once"});
    co_await guard_->make_safe();
  }
  if (work_ != nullptr) work_->cancel();
}

}  // namespace lapwright
