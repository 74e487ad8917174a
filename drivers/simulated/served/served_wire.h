// One end of a wire that programs connect to: a TCP port for several of them, or a pseudo-terminal; with a wire's
// faults.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "drivers/links/link_address.h"
#include "drivers/simulated/served/pseudo_terminal.h"

namespace lapwright::simulated {

/// Bytes to and from whoever is connected. One thread; keep it until the io_context has run out.
class ServedWire {
 public:
  using Heard = std::function<void(std::string_view)>;
  /// @param place  a TCP host and port to listen at (port 0: any free one), or the name of a symlink that leads to the
  ///               pseudo-terminal
  /// @param hub    what one program says, the others hear as well: a bus
  ServedWire(boost::asio::any_io_executor executor, LinkAddress place, bool hub, Heard heard);
  ~ServedWire();
  ServedWire(const ServedWire&) = delete;
  ServedWire& operator=(const ServedWire&) = delete;

  /// From now on. @throws std::system_error  the port is taken, the name can't be made
  void plug();
  /// Connections end, the device is not there any more.
  void unplug();
  [[nodiscard]] bool plugged() const { return plugged_; }
  /// Half-open: connections stay, and no byte comes through in either direction.
  void mute(bool on) { muted_ = on; }
  void say(std::string_view bytes);
  /// For people, with the port or device really in use.
  [[nodiscard]] std::string where() const;
  [[nodiscard]] std::uint16_t port() const;  ///< 0 for a device

 private:
  class Client;
  void accept();
  void greet(const std::shared_ptr<Client>& client);
  void received(const Client& from, std::string_view bytes);

  boost::asio::any_io_executor executor_;
  LinkAddress place_;
  bool hub_;
  Heard heard_;
  bool plugged_ = false;
  bool muted_ = false;
  std::optional<boost::asio::ip::tcp::acceptor> acceptor_;
  std::unique_ptr<PseudoTerminal> terminal_;
  std::set<std::shared_ptr<Client>> clients_;
};

}  // namespace lapwright::simulated
