// A child process that is spoken with by lines: what is said to it, and one line of answer at a time.
#pragma once

#include <cstdio>
#include <string>
#include <vector>

namespace lapwright::recordings {

class Lockstep {
 public:
  /// @throws std::system_error  it can't be started
  explicit Lockstep(const std::vector<std::string>& command);
  ~Lockstep();
  Lockstep(const Lockstep&) = delete;
  Lockstep& operator=(const Lockstep&) = delete;

  void say(const std::string& line);
  /// @throws std::runtime_error  it ended
  [[nodiscard]] std::string listen();

 private:
  int child_ = -1;
  std::FILE* to_ = nullptr;
  std::FILE* from_ = nullptr;
};

}  // namespace lapwright::recordings
