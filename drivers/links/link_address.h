// Where a link leads: a serial device or a TCP peer.
#pragma once

#include <cstdint>
#include <string>
#include <variant>

namespace lapwright {

/// A real port, a symlink to one (such as those of /dev/serial/by-id), or a pseudo-terminal. Always 8N1, raw.
struct SerialAddress {
  std::string device;
  int baud = 115200;           ///< bit/s; a pseudo-terminal ignores it
  bool hardware_flow = false;  ///< RTS/CTS
};

struct TcpAddress {
  std::string host;
  std::uint16_t port = 0;
};

using LinkAddress = std::variant<SerialAddress, TcpAddress>;

/// For messages: "/dev/ttyACM0", "localhost:12021".
[[nodiscard]] std::string text(const LinkAddress& address);

}  // namespace lapwright
