// Words to the service manager that started us (sd_notify(3), systemd.service(5)): ready, alive, stopping.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace lapwright {

/// Without a manager (no NOTIFY_SOCKET in the environment) every word goes nowhere. Words that can't be delivered are
/// dropped: the manager notices that by itself.
class ServiceManager {
 public:
  /// From the environment of this process, which is cleared so that no child speaks in our name.
  static ServiceManager of_environment();
  ServiceManager() = default;
  ServiceManager(std::string socket, std::optional<std::chrono::microseconds> watchdog)
      : socket_(std::move(socket)), watchdog_(watchdog) {}

  void ready() const { tell("READY=1"); }
  void alive() const { tell("WATCHDOG=1"); }
  void stopping() const { tell("STOPPING=1"); }
  void status(const std::string& text) const { tell("STATUS=" + text); }
  /// How often the manager wants to hear `alive` at least; empty: not at all.
  [[nodiscard]] std::optional<std::chrono::microseconds> watchdog() const { return watchdog_; }

 private:
  void tell(std::string_view word) const;

  std::string socket_;
  std::optional<std::chrono::microseconds> watchdog_;
};

}  // namespace lapwright
