#include "tests/bench/workers.h"

#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <stdexcept>
#include <system_error>

namespace lapwright::bench {
namespace {

struct Worker {
  std::size_t job = 0;
  pid_t process = 0;
  int pipe = -1;
};

void write_all(int to, const std::string& text) {
  std::size_t done = 0;
  while (done < text.size()) {
    const ssize_t written = write(to, text.data() + done, text.size() - done);
    if (written <= 0) _exit(74);
    done += static_cast<std::size_t>(written);
  }
}

Worker start(std::size_t number, const std::function<std::string(std::size_t)>& job) {
  int ends[2];
  if (pipe(ends) != 0) throw std::system_error(errno, std::generic_category(), "pipe for a worker");
  std::fflush(nullptr);
  const pid_t process = fork();
  if (process < 0) throw std::system_error(errno, std::generic_category(), "fork of a worker");
  if (process == 0) {
    close(ends[0]);
    try {
      write_all(ends[1], job(number));
    } catch (const std::exception& error) {
      write_all(ends[1], error.what());
      _exit(70);
    }
    _exit(0);
  }
  close(ends[1]);
  return Worker{number, process, ends[0]};
}

/// Reads what is there; true at the end of the text.
bool drain(const Worker& worker, std::string& text) {
  char buffer[4096];
  const ssize_t length = read(worker.pipe, buffer, sizeof buffer);
  if (length > 0) text.append(buffer, static_cast<std::size_t>(length));
  return length <= 0;
}

void finish(const Worker& worker, const std::string& text) {
  close(worker.pipe);
  int status = 0;
  waitpid(worker.process, &status, 0);
  if (WIFEXITED(status) && WEXITSTATUS(status) == 0) return;
  throw std::runtime_error("job " + std::to_string(worker.job) + " failed with status " + std::to_string(status) +
                           ": " + text);
}

}  // namespace

std::vector<std::string> run_in_processes(std::size_t count, int at_a_time,
                                          const std::function<std::string(std::size_t)>& job) {
  std::vector<std::string> texts(count);
  std::vector<Worker> running;
  std::size_t next = 0;
  while (next < count || !running.empty()) {
    while (next < count && running.size() < static_cast<std::size_t>(at_a_time)) running.push_back(start(next++, job));
    std::vector<pollfd> waits;
    for (const Worker& worker : running) waits.push_back(pollfd{worker.pipe, POLLIN, 0});
    poll(waits.data(), waits.size(), -1);
    for (std::size_t i = waits.size(); i-- > 0;) {
      if (waits[i].revents == 0 || !drain(running[i], texts[running[i].job])) continue;
      finish(running[i], texts[running[i].job]);
      running.erase(running.begin() + static_cast<std::ptrdiff_t>(i));
    }
  }
  return texts;
}

}  // namespace lapwright::bench
