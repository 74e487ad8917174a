#include "daemon/control_socket.h"

#include <sys/socket.h>
#include <unistd.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <deque>
#include <nlohmann/json.hpp>

namespace lapwright {
namespace asio = boost::asio;

bool ControlDesk::is_urgent(const std::string& line) const {
  const nlohmann::json request = nlohmann::json::parse(line, nullptr, false);
  return request.is_object() && request.contains("ask") && request["ask"] == "halt";
}

asio::awaitable<LineDesk::Answer> ControlDesk::answer(std::string line) {
  const nlohmann::json request = nlohmann::json::parse(line, nullptr, false);
  std::string ask;
  if (request.is_object() && request.contains("ask") && request["ask"].is_string()) ask = request["ask"];
  Answer said;
  if (ask == "status" || ask == "watch") {
    said.line = status_line();
    said.watches = ask == "watch";
  } else if (ask == "check") {
    said.line = check_line();
  } else if (ask == "halt") {
    said.line = co_await halt();
  } else if (ask == "clear") {
    said.line = co_await clear();
  } else if (ask == "queue" || ask == "ready") {
    said.line = co_await queue(request);
  } else {
    said.line =
        R"({"error":"not understood; ask with {\"ask\":\"status\"}, \"watch\", \"check\", \"halt\", \"clear\", \"queue\" or \"ready\""})";
  }
  co_return said;
}

using Local = asio::local::stream_protocol;

/// Alive while an operation of its own is under way, also when the socket has let it go.
class ControlSocket::Client : public std::enable_shared_from_this<Client> {
 public:
  /// @param late  there are as many others as there may be: this one may ask for a halt, and for nothing else
  Client(Local::socket socket, LineDesk& desk, bool late)
      : socket_(std::move(socket)), idle_(socket_.get_executor()), desk_(desk), late_(late) {}

  asio::awaitable<void> serve();
  void send(const std::string& line);
  void leave() {
    boost::system::error_code ignored;
    idle_.cancel();
    socket_.close(ignored);
  }
  [[nodiscard]] bool watches() const { return watches_; }

 private:
  asio::awaitable<void> answer(std::string line);
  void write_next();
  void start_idle_time();

  Local::socket socket_;
  asio::steady_timer idle_;
  LineDesk& desk_;
  std::deque<std::string> waiting_;
  bool writing_ = false;
  bool watches_ = false;
  bool leaving_ = false;
  bool late_;
};

void ControlSocket::Client::start_idle_time() {
  idle_.expires_after(std::chrono::seconds(late_ ? late_idle_s : idle_s));
  idle_.async_wait([self = shared_from_this()](const boost::system::error_code& error) {
    if (!error && !self->watches_) self->leave();
  });
}

asio::awaitable<void> ControlSocket::Client::serve() {
  const std::shared_ptr<Client> self = shared_from_this();
  std::string received;
  while (!leaving_ && socket_.is_open()) {
    start_idle_time();
    auto buffer = asio::dynamic_buffer(received, longest_line);
    const auto [error, size] =
        co_await asio::async_read_until(socket_, buffer, '\n', asio::as_tuple(asio::use_awaitable));
    if (error == asio::error::not_found) {
      leaving_ = true;
      send(R"({"error":"the request is too long; ask with one short line"})");
      co_return;
    }
    if (error) break;
    std::string line = received.substr(0, size - 1);
    received.erase(0, size);
    co_await answer(std::move(line));
  }
  if (!leaving_) leave();
}

asio::awaitable<void> ControlSocket::Client::answer(std::string line) {
  if (late_ && !desk_.is_urgent(line)) {
    leaving_ = true;
    send(R"({"error":"too many clients; close one of the others"})");
    co_return;
  }
  const LineDesk::Answer said = co_await desk_.answer(std::move(line));
  watches_ = watches_ || said.watches;
  send(said.line);
}

void ControlSocket::Client::send(const std::string& line) {
  if (!socket_.is_open()) return;
  if (waiting_.size() >= most_waiting) return leave();  // too slow: dropped, never waited for
  waiting_.push_back(line + '\n');
  if (!writing_) write_next();
}

void ControlSocket::Client::write_next() {
  if (waiting_.empty()) {
    if (leaving_) leave();
    return;
  }
  writing_ = true;
  asio::async_write(socket_, asio::buffer(waiting_.front()),
                    [self = shared_from_this()](const boost::system::error_code& error, std::size_t) {
                      self->writing_ = false;
                      self->waiting_.pop_front();
                      if (error) return self->leave();
                      self->write_next();
                    });
}

ControlSocket::ControlSocket(asio::io_context& context, const std::filesystem::path& path, LineDesk& desk)
    : path_(path), acceptor_(context, Local(), path_.release_listener()), retry_(context), desk_(desk) {
  accept();
}

ControlSocket::~ControlSocket() { close(); }

void ControlSocket::accept() {
  acceptor_.async_accept([this](const boost::system::error_code& error, Local::socket socket) {
    if (!acceptor_.is_open()) return;
    if (!error) {
      greet(std::move(socket));
      return accept();
    }
    retry_.expires_after(std::chrono::seconds(1));  // no descriptors left, perhaps: not again and again at once
    retry_.async_wait([this](const boost::system::error_code& aborted) {
      if (!aborted && acceptor_.is_open()) accept();
    });
  });
}

void ControlSocket::greet(Local::socket socket) {
  ucred peer{};
  socklen_t size = sizeof peer;
  const bool known = ::getsockopt(socket.native_handle(), SOL_SOCKET, SO_PEERCRED, &peer, &size) == 0;
  if (!known || (peer.uid != ::geteuid() && peer.uid != 0)) return;  // not its owner: closed without a word
  if (clients_.size() >= most_clients + most_late) {
    boost::system::error_code ignored;
    socket.non_blocking(true, ignored);
    const std::string refusal = "{\"error\":\"too many clients; close one of the others\"}\n";
    socket.write_some(asio::buffer(refusal), ignored);
    return;
  }
  const auto executor = socket.get_executor();
  const auto client = std::make_shared<Client>(std::move(socket), desk_, clients_.size() >= most_clients);
  clients_.insert(client);
  const auto when_ended = [this, weak = std::weak_ptr<Client>(client)](const std::exception_ptr& failure) {
    if (const auto ended = weak.lock()) clients_.erase(ended);
    if (failure) std::rethrow_exception(failure);
  };
  asio::co_spawn(executor, client->serve(), when_ended);
}

void ControlSocket::publish(const std::string& line) {
  for (const auto& client : clients_) {
    if (client->watches()) client->send(line);
  }
}

void ControlSocket::close() {
  boost::system::error_code ignored;
  acceptor_.close(ignored);
  retry_.cancel();
  for (const auto& client : clients_) client->leave();
  path_.remove();
}

}  // namespace lapwright
