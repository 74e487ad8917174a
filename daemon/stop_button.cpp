#include "daemon/stop_button.h"

namespace lapwright {
namespace {

/// Also where the coroutine that counts is destroyed in its middle.
class Counted {
 public:
  explicit Counted(int& count) : count_(count) { ++count_; }
  ~Counted() { --count_; }
  Counted(const Counted&) = delete;
  Counted& operator=(const Counted&) = delete;

 private:
  int& count_;
};

}  // namespace

boost::asio::awaitable<void> StopButton::make_dead(std::string who) {
  pressed_ = true;
  if (guard_ == nullptr && stand_ != nullptr) stand_->cut();
  if (guard_ != nullptr) {
    const Counted now(busy_);
    guard_->stop(Stop{StopReason::asked, who + " asked to make the track dead at once"});
    co_await guard_->make_safe();
  }
  if (work_ != nullptr) work_->cancel();
}

}  // namespace lapwright
