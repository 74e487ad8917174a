// A client's connection to the control socket: one line out, lines in, with a limit on every wait.
#pragma once

#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>

namespace lapwright {

/// No service answers; the text names the path and what to do.
class NotReachable : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

class ControlLink {
 public:
  /// @throws NotReachable
  explicit ControlLink(const std::filesystem::path& path);
  ~ControlLink();
  ControlLink(const ControlLink&) = delete;
  ControlLink& operator=(const ControlLink&) = delete;

  /// Sends one line. @throws NotReachable
  void send(const std::string& line);
  /// The next line; empty when the service has closed the connection.
  /// @param limit_ms  of the wait, below 0: none. @throws NotReachable  when it passes
  [[nodiscard]] std::optional<std::string> receive(int limit_ms);

 private:
  [[noreturn]] void lost(const std::string& what) const;

  std::filesystem::path path_;
  int descriptor_ = -1;
  std::string received_;
};

}  // namespace lapwright
