#include "daemon/control_link.h"

#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace lapwright {
namespace {

constexpr std::size_t longest_answer = 1 << 20;

}  // namespace

ControlLink::ControlLink(const std::filesystem::path& path) : path_(path) {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  const std::string name = path.string();
  if (name.size() >= sizeof address.sun_path) lost("the path is too long for a socket");
  std::memcpy(address.sun_path, name.c_str(), name.size() + 1);
  descriptor_ = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (descriptor_ < 0) lost(std::strerror(errno));
  if (::connect(descriptor_, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0) return;
  const int error = errno;
  ::close(descriptor_);
  lost(std::strerror(error));
}

ControlLink::~ControlLink() { ::close(descriptor_); }

void ControlLink::lost(const std::string& what) const {
  throw NotReachable("no service answers at " + path_.string() + ": " + what +
                     "; start it with lapwrightd --config FILE, or name its socket with --socket");
}

void ControlLink::send(const std::string& line) {
  const std::string text = line + '\n';
  std::size_t done = 0;
  while (done < text.size()) {
    const ssize_t count = ::send(descriptor_, text.data() + done, text.size() - done, MSG_NOSIGNAL);
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) lost(std::strerror(errno));
    done += static_cast<std::size_t>(count);
  }
}

std::optional<std::string> ControlLink::receive(int limit_ms) {
  for (;;) {
    if (const std::size_t end = received_.find('\n'); end != std::string::npos) {
      std::string line = received_.substr(0, end);
      received_.erase(0, end + 1);
      return line;
    }
    if (received_.size() > longest_answer) lost("its answer is too long");
    pollfd wait{descriptor_, POLLIN, 0};
    const int ready = ::poll(&wait, 1, limit_ms);
    if (ready < 0 && errno == EINTR) continue;
    if (ready == 0) lost("it did not answer in time");
    std::array<char, 4096> part{};
    const ssize_t count = ::read(descriptor_, part.data(), part.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0 && errno != ECONNRESET) lost(std::strerror(errno));
    if (count <= 0) return std::nullopt;  // reset: it closed without having read all that we sent
    received_.append(part.data(), static_cast<std::size_t>(count));
  }
}

}  // namespace lapwright
