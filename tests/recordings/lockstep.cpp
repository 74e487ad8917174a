#include "tests/recordings/lockstep.h"

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <stdexcept>
#include <system_error>

extern char** environ;

namespace lapwright::recordings {

Lockstep::Lockstep(const std::vector<std::string>& command) {
  std::array<int, 2> down{}, up{};
  if (::pipe(down.data()) != 0 || ::pipe(up.data()) != 0)
    throw std::system_error(errno, std::generic_category(), "pipe");
  posix_spawn_file_actions_t actions;
  ::posix_spawn_file_actions_init(&actions);
  ::posix_spawn_file_actions_adddup2(&actions, down[0], STDIN_FILENO);
  ::posix_spawn_file_actions_adddup2(&actions, up[1], STDOUT_FILENO);
  for (const int end : {down[0], down[1], up[0], up[1]}) ::posix_spawn_file_actions_addclose(&actions, end);
  std::vector<std::string> words = command;
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  const int error = ::posix_spawn(&child_, arguments[0], &actions, nullptr, arguments.data(), environ);
  ::posix_spawn_file_actions_destroy(&actions);
  ::close(down[0]);
  ::close(up[1]);
  to_ = ::fdopen(down[1], "w");
  from_ = ::fdopen(up[0], "r");
  if (error != 0) throw std::system_error(error, std::generic_category(), command.at(0));
}

Lockstep::~Lockstep() {
  if (to_ != nullptr) std::fclose(to_);  // the end of its input is the end of it
  if (from_ != nullptr) std::fclose(from_);
  if (child_ > 0) ::waitpid(child_, nullptr, 0);
}

void Lockstep::say(const std::string& line) {
  std::fputs((line + "\n").c_str(), to_);
  std::fflush(to_);
}

std::string Lockstep::listen() {
  std::string line;
  for (int letter = std::fgetc(from_); letter != '\n'; letter = std::fgetc(from_)) {
    if (letter == EOF) throw std::runtime_error("the board's process ended");
    line += static_cast<char>(letter);
  }
  return line;
}

}  // namespace lapwright::recordings
