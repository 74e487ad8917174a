#include "tests/service/process.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <fstream>
#include <functional>
#include <sstream>
#include <system_error>
#include <thread>

namespace lapwright {
namespace {

constexpr auto glance = std::chrono::milliseconds(10);

/// Looks again and again until it is so or the time is over.
bool comes_true(double limit_s, const std::function<bool()>& is_so) {
  for (int look = 0; !is_so(); ++look) {
    if (glance * look > std::chrono::duration<double>(limit_s)) return false;
    std::this_thread::sleep_for(glance);
  }
  return true;
}

}  // namespace

Process::Process(const std::filesystem::path& program, const std::vector<std::string>& arguments,
                 std::filesystem::path output)
    : output_(std::move(output)),
      before_bytes_(std::filesystem::exists(output_) ? static_cast<std::streamoff>(std::filesystem::file_size(output_))
                                                     : 0) {
  std::vector<std::string> words = arguments;
  words.insert(words.begin(), program.string());
  std::vector<char*> pointers;
  for (std::string& word : words) pointers.push_back(word.data());
  pointers.push_back(nullptr);
  std::array<int, 2> input{};
  if (::pipe2(input.data(), O_CLOEXEC) != 0) throw std::system_error(errno, std::generic_category(), "no pipe");
  stdin_ = input[1];
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, output_.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
  posix_spawn_file_actions_adddup2(&files, STDOUT_FILENO, STDERR_FILENO);
  posix_spawn_file_actions_adddup2(&files, input[0], STDIN_FILENO);
  const int error = ::posix_spawn(&id_, program.c_str(), &files, nullptr, pointers.data(), environ);
  posix_spawn_file_actions_destroy(&files);
  ::close(input[0]);
  if (error != 0) throw std::system_error(error, std::generic_category(), "can't start " + program.string());
}

Process::~Process() {
  ::close(stdin_);
  if (status_) return;
  signal(SIGKILL);
  ::waitpid(id_, nullptr, 0);
}

void Process::signal(int number) const {
  if (!status_) ::kill(id_, number);
}

void Process::say(const std::string& line) const {
  const std::string whole = line + '\n';
  if (::write(stdin_, whole.data(), whole.size()) != static_cast<ssize_t>(whole.size())) {
    throw std::system_error(errno, std::generic_category(), "it takes no more lines");
  }
}

std::optional<int> Process::wait(double limit_s) {
  comes_true(limit_s, [this] {
    int status = 0;
    if (!status_ && ::waitpid(id_, &status, WNOHANG) == id_) {
      status_ = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    }
    return status_.has_value();
  });
  return status_;
}

bool Process::wrote(const std::string& text, double limit_s) {
  return comes_true(limit_s, [&] { return output().find(text) != std::string::npos; });
}

std::string Process::output() const {
  std::ostringstream text;
  std::ifstream file(output_);
  file.seekg(before_bytes_);
  text << file.rdbuf();
  return text.str();
}

}  // namespace lapwright
