// A program that a test starts, signals and waits for, with what it wrote and with a limit on every wait.
#pragma once

#include <sys/types.h>

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace lapwright {

class Process {
 public:
  /// Starts a program; stdout and stderr go to the file `output`. @throws std::system_error
  Process(const std::filesystem::path& program, const std::vector<std::string>& arguments,
          std::filesystem::path output);
  /// Kills it if it still runs.
  ~Process();
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  void signal(int number) const;
  /// One line on its stdin, which stays open as long as this does.
  void say(const std::string& line) const;
  /// The exit status, 128 + the signal's number if one ended it; empty if it still runs after `limit_s`.
  [[nodiscard]] std::optional<int> wait(double limit_s);
  /// Whether it wrote `text` within `limit_s`.
  [[nodiscard]] bool wrote(const std::string& text, double limit_s);
  /// What it wrote, and not what another one had written to the same file before.
  [[nodiscard]] std::string output() const;

 private:
  std::filesystem::path output_;
  std::streamoff before_bytes_;
  pid_t id_ = -1;
  int stdin_ = -1;
  std::optional<int> status_;
};

}  // namespace lapwright
