// One voice towards the service manager for all loops of this process, each of which runs in a thread of its own.
#pragma once

#include <chrono>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/service_manager.h"
#include "tuning/clock.h"

namespace lapwright {

/// Can be called from any thread. With one loop its words are passed on as they are.
class SharedManager {
 public:
  /// @param loops  their names, for the status; as many as there are loops
  SharedManager(ServiceManager manager, std::vector<std::string> loops);

  void ready(std::size_t loop);  ///< passed on once all are
  /// Passed on while each loop that has not ended said so within three quarters of the watchdog's time.
  void alive(std::size_t loop, Instant now);
  void stopping(std::size_t loop);  ///< the first one's
  void status(std::size_t loop, const std::string& text);
  void over(std::size_t loop);  ///< it has ended: the others' words count alone
  [[nodiscard]] std::optional<std::chrono::microseconds> watchdog() const { return manager_.watchdog(); }

 private:
  struct Loop {
    std::string name;
    std::string status = {};
    bool ready = false;
    bool over = false;
    Instant alive_at{};
  };
  void tell_ready();

  ServiceManager manager_;
  std::mutex lock_;
  std::vector<Loop> loops_;
  bool told_ready_ = false;
  bool told_stopping_ = false;
};

/// That voice as one loop has it.
class ManagedLoop {
 public:
  ManagedLoop(SharedManager& all, std::size_t loop) : all_(all), loop_(loop) {}
  void ready() const { all_.ready(loop_); }
  void alive(Instant now) const { all_.alive(loop_, now); }
  void stopping() const { all_.stopping(loop_); }
  void status(const std::string& text) const { all_.status(loop_, text); }
  [[nodiscard]] std::optional<std::chrono::microseconds> watchdog() const { return all_.watchdog(); }

 private:
  SharedManager& all_;
  std::size_t loop_;
};

}  // namespace lapwright
