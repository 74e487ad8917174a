// How people and signals reach into a running shift: an orderly stop, or everything dead at once.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <string>

#include "daemon/background.h"
#include "daemon/test_stand.h"
#include "drivers/safety/guarded_rig.h"

namespace lapwright {

/// Single-threaded. The running job connects its procedure and its guard while it has them.
class StopButton {
 public:
  /// In order: the procedure is cancelled, the engine halted, CVs are written back, track power goes off.
  void stop() {
    pressed_ = true;
    if (work_ != nullptr) work_->cancel();
  }
  /// The same for the job under way alone; the shift goes on as its queue says.
  void stop_job() {
    if (work_ != nullptr) work_->cancel();
  }
  /// Engine halted and track dead at once; nothing is written back. @returns empty: it was seen to be done; otherwise
  /// what is in doubt, and what to do
  boost::asio::awaitable<std::string> make_dead(std::string who);

  [[nodiscard]] bool pressed() const { return pressed_; }
  /// A person has cleared what it was pressed for.
  void release() { pressed_ = false; }
  /// What is to be cancelled now; null when nothing is.
  void connect_work(Background* work) { work_ = work; }
  void connect_guard(GuardedRig* guard) { guard_ = guard; }
  /// What is made dead where no guard is connected, between and before the jobs.
  void connect_stand(TestStand* stand) { stand_ = stand; }
  /// Somebody is making the track dead through the guard just now: it has to stay.
  [[nodiscard]] bool busy() const { return busy_ > 0; }
  [[nodiscard]] bool guarded() const { return guard_ != nullptr; }
  /// False: an engine is at work whose guard hangs.
  [[nodiscard]] bool guard_awake() const { return guard_ == nullptr || guard_->awake(); }

 private:
  Background* work_ = nullptr;
  GuardedRig* guard_ = nullptr;
  TestStand* stand_ = nullptr;
  bool pressed_ = false;
  int busy_ = 0;
};

}  // namespace lapwright
