// The service's side of the control socket: one-line requests of the owner, answered without ever waiting.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "daemon/control_path.h"

namespace lapwright {

/// Who answers the lines that come in.
class LineDesk {
 public:
  struct Answer {
    std::string line;
    bool watches = false;  ///< the client hears of events from now on
  };
  virtual ~LineDesk() = default;
  virtual boost::asio::awaitable<Answer> answer(std::string line) = 0;
  /// Answered also when there are as many clients as there may be.
  [[nodiscard]] virtual bool is_urgent(const std::string& /*line*/) const { return false; }
};

/// What the service can be asked for: {"ask":"status"}, {"ask":"watch"} (the status, then events until the client
/// goes), {"ask":"check"}, {"ask":"halt"}, {"ask":"clear"}, {"ask":"queue"} and {"ask":"ready"} (daemon/queue_desk.h).
class ControlDesk : public LineDesk {
 public:
  boost::asio::awaitable<Answer> answer(std::string line) final;
  [[nodiscard]] bool is_urgent(const std::string& line) const final;  ///< a halt
  [[nodiscard]] virtual std::string status_line() const = 0;
  /// The check before a run, as one JSON line.
  [[nodiscard]] virtual std::string check_line() const = 0;
  /// Engine halted, track dead; then one JSON line that confirms it, or tells what is in doubt.
  virtual boost::asio::awaitable<std::string> halt() = 0;
  /// A person has looked at what tripped: the shift goes on; then one JSON line that says so.
  virtual boost::asio::awaitable<std::string> clear() = 0;
  /// What daemon/queue_desk.h says, as one JSON line.
  virtual boost::asio::awaitable<std::string> queue(nlohmann::json request) = 0;
};

/// Keep it until the context has run out: handlers refer to it.
class ControlSocket {
 public:
  static constexpr std::size_t longest_line = 4096;  ///< bytes of a request
  static constexpr std::size_t most_clients = 8;
  static constexpr std::size_t most_late = 4;       ///< more, whose one request is answered if it is urgent
  static constexpr std::size_t most_waiting = 256;  ///< lines for one slow client, who is dropped then
  static constexpr int idle_s = 10;                 ///< a client who does not watch has to ask within this time
  static constexpr int late_idle_s = 1;

  /// Listens from now on. The desk outlives it. @throws SocketInUse, SocketTrouble
  ControlSocket(boost::asio::io_context& context, const std::filesystem::path& path, LineDesk& desk);
  ~ControlSocket();
  ControlSocket(const ControlSocket&) = delete;
  ControlSocket& operator=(const ControlSocket&) = delete;

  /// One event line to everybody who watches.
  void publish(const std::string& line);
  /// No more clients; the socket file goes.
  void close();
  [[nodiscard]] std::size_t clients() const { return clients_.size(); }

 private:
  class Client;
  void accept();
  void greet(boost::asio::local::stream_protocol::socket socket);

  ControlPath path_;
  boost::asio::local::stream_protocol::acceptor acceptor_;
  boost::asio::steady_timer retry_;
  LineDesk& desk_;
  std::set<std::shared_ptr<Client>> clients_;
};

}  // namespace lapwright
