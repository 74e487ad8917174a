#include "daemon/service_manager.h"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <cstring>

namespace lapwright {
namespace {

std::string taken_from_environment(const char* name) {
  const char* value = std::getenv(name);
  std::string text = value == nullptr ? "" : value;
  ::unsetenv(name);
  return text;
}

std::optional<long long> number(const std::string& text) {
  long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || value <= 0) return std::nullopt;
  return value;
}

}  // namespace

ServiceManager ServiceManager::of_environment() {
  std::string socket = taken_from_environment("NOTIFY_SOCKET");
  const std::optional<long long> period_us = number(taken_from_environment("WATCHDOG_USEC"));
  const std::string whose = taken_from_environment("WATCHDOG_PID");
  const bool ours = whose.empty() || number(whose) == ::getpid();
  std::optional<std::chrono::microseconds> watchdog;
  if (ours && period_us) watchdog = std::chrono::microseconds(*period_us);
  return ServiceManager(std::move(socket), watchdog);
}

void ServiceManager::tell(std::string_view word) const {
  sockaddr_un address{};
  if (socket_.empty() || socket_.size() >= sizeof address.sun_path) return;
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, socket_.data(), socket_.size());
  if (address.sun_path[0] == '@') address.sun_path[0] = '\0';  // an abstract name
  const int descriptor = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (descriptor < 0) return;
  const auto length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + socket_.size());
  ::sendto(descriptor, word.data(), word.size(), MSG_NOSIGNAL, reinterpret_cast<const sockaddr*>(&address), length);
  ::close(descriptor);
}

}  // namespace lapwright
