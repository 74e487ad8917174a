#include "daemon/stop_button.h"

namespace lapwright {
namespace {

const char* const not_switched_off = "the track may still be live; switch the supply off by hand";

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

boost::asio::awaitable<std::string> StopButton::make_dead(std::string who) {
  pressed_ = true;
  std::string doubt;
  if (guard_ != nullptr) {
    const Counted now(busy_);
    guard_->stop(Stop{StopReason::asked, who + " asked to make the track dead at once"});
    co_await guard_->make_safe();
    if (!guard_->safe()) {
      doubt = not_switched_off;
      for (const std::string& trouble : guard_->troubles()) doubt += "; " + trouble;
    } else if (!guard_->seen_safe()) {
      doubt = nobody_tells;
    }
  } else if (stand_ != nullptr) {
    doubt = co_await stand_->make_dead();
  }
  if (work_ != nullptr) work_->cancel();
  co_return doubt;
}

}  // namespace lapwright
