#include "daemon/hook_process.h"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <optional>
#include <system_error>

#include "drivers/descriptor.h"
#include "drivers/settings/wording.h"

namespace lapwright {
namespace {

constexpr int hook_glance_ms = 20;
constexpr std::size_t most_at_once = 65536;  ///< bytes taken in one glance

std::string cause_of(int error) { return std::generic_category().message(error); }

/// A file without a name: a program that does not read can't keep anybody waiting. @returns none where there is no room
std::optional<int> document_file(const std::string& document) {
  Descriptor file(::memfd_create("lapwright-hook", MFD_CLOEXEC));
  if (file.number() < 0) return std::nullopt;
  for (std::size_t written = 0; written < document.size();) {
    const ssize_t done = ::write(file.number(), document.data() + written, document.size() - written);
    if (done < 0) return std::nullopt;
    written += static_cast<std::size_t>(done);
  }
  if (::lseek(file.number(), 0, SEEK_SET) != 0) return std::nullopt;
  return file.release();
}

/// @returns an errno, 0 where the program runs now
int spawn(const std::vector<std::string>& words, int input, int output, pid_t& id) {
  std::vector<char*> pointers;
  pointers.reserve(words.size() + 1);
  for (const std::string& word : words) pointers.push_back(const_cast<char*>(word.c_str()));  // exec only reads them
  pointers.push_back(nullptr);
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_adddup2(&files, input, STDIN_FILENO);
  posix_spawn_file_actions_adddup2(&files, output, STDOUT_FILENO);
  posix_spawn_file_actions_adddup2(&files, output, STDERR_FILENO);
  // Not everything here is marked close-on-exec: Asio's sockets are not, and the station must not be kept connected.
  posix_spawn_file_actions_addclosefrom_np(&files, STDERR_FILENO + 1);
  posix_spawnattr_t how;
  posix_spawnattr_init(&how);
  sigset_t signals;
  sigemptyset(&signals);
  posix_spawnattr_setsigmask(&how, &signals);
  sigfillset(&signals);
  posix_spawnattr_setsigdefault(&how, &signals);
  posix_spawnattr_setpgroup(&how, 0);
  posix_spawnattr_setflags(&how, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
  const int error = ::posix_spawn(&id, pointers.front(), &files, &how, pointers.data(), environ);
  posix_spawnattr_destroy(&how);
  posix_spawn_file_actions_destroy(&files);
  return error;
}

/// Takes what has been written, keeps its beginning. @returns whether more may come
bool take_output(int reading, std::string& said) {
  std::array<char, 4096> part{};
  for (std::size_t taken = 0; taken < most_at_once;) {
    const ssize_t got = ::read(reading, part.data(), part.size());
    if (got == 0) return false;
    if (got < 0) return errno == EAGAIN || errno == EINTR;
    taken += static_cast<std::size_t>(got);
    said.append(part.data(), std::min(static_cast<std::size_t>(got), most_said_bytes - said.size()));
  }
  return true;
}

/// It stays a zombie, so that its group's number is nobody else's yet.
bool has_ended(pid_t id) {
  siginfo_t info{};
  return ::waitid(P_PID, static_cast<id_t>(id), &info, WEXITED | WNOHANG | WNOWAIT) == 0 && info.si_pid == id;
}

std::string trouble_of(int status) {
  if (WIFSIGNALED(status)) return std::string("a signal ended it: ") + ::strsignal(WTERMSIG(status));
  return WEXITSTATUS(status) == 0 ? "" : "it ended with status " + std::to_string(WEXITSTATUS(status));
}

/// @returns why it has to be killed; empty: it has ended by itself
std::string await_end(pid_t id, int reading, const HookOrder& order, const Clock& clock,
                      const std::atomic<bool>& give_up, std::string& said) {
  const Instant until = clock.now() + seconds(order.limit_s);
  bool more = true;
  while (!has_ended(id)) {
    if (give_up) return "it was killed because the service ends";
    if (clock.now() >= until) return "it still ran after " + settings::plain(order.limit_s) + " s and was killed";
    // Once enough has been said, not at the pace at which it talks.
    const bool listens = more && said.size() < most_said_bytes;
    pollfd output{reading, POLLIN, 0};
    ::poll(&output, listens ? 1 : 0, hook_glance_ms);
    if (more) more = take_output(reading, said);
  }
  return {};
}

}  // namespace

HookEnd run_hook(const HookOrder& order, const Clock& clock, const std::atomic<bool>& give_up) {
  const Descriptor input(document_file(order.document).value_or(-1));
  if (input.number() < 0) return {"it can't be started: no room for what it is to read: " + cause_of(errno), {}};
  std::array<int, 2> pipe{-1, -1};
  if (::pipe2(pipe.data(), O_CLOEXEC | O_NONBLOCK) != 0) return {"it can't be started: " + cause_of(errno), {}};
  const Descriptor reading(pipe[0]);
  pid_t id = -1;
  {
    const Descriptor writing(pipe[1]);
    ::fcntl(writing.number(), F_SETFL, 0);  // for the command, it blocks as everywhere else
    if (const int error = spawn(order.words, input.number(), writing.number(), id); error != 0) {
      return {"it can't be started: " + cause_of(error), {}};
    }
  }
  HookEnd end;
  end.trouble = await_end(id, reading.number(), order, clock, give_up, end.said);
  ::kill(-id, SIGKILL);
  int status = 0;
  while (::waitpid(id, &status, 0) < 0 && errno == EINTR) continue;
  take_output(reading.number(), end.said);
  if (end.trouble.empty()) end.trouble = trouble_of(status);
  return end;
}

}  // namespace lapwright
