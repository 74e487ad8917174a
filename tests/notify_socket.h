// The service manager's end of sd_notify(3), for tests.
#pragma once

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <boost/test/unit_test.hpp>
#include <cstddef>
#include <cstring>
#include <string>

namespace lapwright {

class NotifySocket {
 public:
  /// @param name  a path, or "@" and an abstract name
  explicit NotifySocket(const std::string& name) : descriptor_(::socket(AF_UNIX, SOCK_DGRAM | SOCK_NONBLOCK, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, name.data(), name.size());
    if (name.front() == '@') address.sun_path[0] = '\0';
    const auto length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + name.size());
    BOOST_REQUIRE(::bind(descriptor_, reinterpret_cast<const sockaddr*>(&address), length) == 0);
  }
  ~NotifySocket() { ::close(descriptor_); }
  NotifySocket(const NotifySocket&) = delete;
  NotifySocket& operator=(const NotifySocket&) = delete;

  /// The next word that came; empty when there is none.
  [[nodiscard]] std::string heard() const {
    std::array<char, 512> text{};
    const ssize_t size = ::recv(descriptor_, text.data(), text.size(), 0);
    return size < 0 ? std::string() : std::string(text.data(), static_cast<std::size_t>(size));
  }

 private:
  int descriptor_;
};

}  // namespace lapwright
