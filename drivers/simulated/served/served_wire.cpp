#include "drivers/simulated/served/served_wire.h"

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <utility>
#include <vector>

namespace lapwright::simulated {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

constexpr std::size_t most_waiting = 65536;  // bytes; a program that takes nothing is dropped, never waited for

}  // namespace

/// One connection. It lives as long as an operation of its own is under way, also when the wire has let it go.
class ServedWire::Client : public std::enable_shared_from_this<Client> {
 public:
  virtual ~Client() = default;
  virtual void close() = 0;
  void begin(ServedWire& wire) {
    wire_ = &wire;
    read();
  }
  void leave() {
    wire_ = nullptr;
    close();
  }
  void say(std::string_view bytes) {
    if (waiting_.size() + bytes.size() > most_waiting) return drop();
    waiting_ += bytes;
    if (!writing_) write();
  }

 protected:
  virtual void read() = 0;
  virtual void write() = 0;
  void came(const boost::system::error_code& error, std::size_t size) {
    if (wire_ == nullptr) return;
    if (error) return drop();
    wire_->received(*this, std::string_view(piece_.data(), size));
    if (wire_ != nullptr) read();
  }
  void went(const boost::system::error_code& error) {
    writing_ = false;
    if (wire_ == nullptr) return;
    if (error) return drop();
    if (!waiting_.empty()) write();
  }
  void drop() {
    if (wire_ != nullptr) wire_->clients_.erase(shared_from_this());
    leave();
  }
  std::array<char, 4096> piece_{};
  std::string waiting_, going_;
  bool writing_ = false;

 private:
  ServedWire* wire_ = nullptr;
};

namespace {

/// `Stream` is a socket, or a reference to a device's end that the wire keeps.
template <class Base, class Stream>
class StreamClient final : public Base {
 public:
  explicit StreamClient(Stream stream) : stream_(std::move(stream)) {}
  void close() override {
    boost::system::error_code ignored;
    stream_.close(ignored);
  }

 private:
  auto self() { return std::static_pointer_cast<StreamClient>(this->shared_from_this()); }
  void read() override {
    stream_.async_read_some(asio::buffer(this->piece_), [self = self()](const boost::system::error_code& error,
                                                                        std::size_t size) { self->came(error, size); });
  }
  void write() override {
    this->going_ = std::exchange(this->waiting_, {});
    this->writing_ = true;
    asio::async_write(stream_, asio::buffer(this->going_),
                      [self = self()](const boost::system::error_code& error, std::size_t) { self->went(error); });
  }
  Stream stream_;
};

}  // namespace

ServedWire::ServedWire(asio::any_io_executor executor, LinkAddress place, bool hub, Heard heard)
    : executor_(std::move(executor)), place_(std::move(place)), hub_(hub), heard_(std::move(heard)) {}

ServedWire::~ServedWire() { unplug(); }

void ServedWire::plug() {
  if (plugged_) return;
  plugged_ = true;
  if (const auto* serial = std::get_if<SerialAddress>(&place_)) {
    terminal_ = std::make_unique<PseudoTerminal>(executor_, serial->device);
    using Terminal = StreamClient<Client, asio::posix::stream_descriptor>;
    greet(std::make_shared<Terminal>(terminal_->release_end()));
    return;
  }
  auto& address = std::get<TcpAddress>(place_);
  tcp::resolver resolver(executor_);
  const auto found = resolver.resolve(address.host, std::to_string(address.port), tcp::resolver::passive);
  acceptor_.emplace(executor_, found.begin()->endpoint(), true);
  address.port = acceptor_->local_endpoint().port();  // the same again when it is plugged in again
  accept();
}

void ServedWire::unplug() {
  plugged_ = false;
  acceptor_.reset();
  for (const auto& client : std::exchange(clients_, {})) client->leave();
  terminal_.reset();
}

void ServedWire::accept() {
  acceptor_->async_accept([this](const boost::system::error_code& error, tcp::socket socket) {
    if (error == asio::error::operation_aborted) return;
    if (error) throw boost::system::system_error(error, where() + " can't accept any more");
    boost::system::error_code ignored;  // slower, but no less right
    socket.set_option(tcp::no_delay(true), ignored);
    greet(std::make_shared<StreamClient<Client, tcp::socket>>(std::move(socket)));
    accept();
  });
}

void ServedWire::greet(const std::shared_ptr<Client>& client) {
  clients_.insert(client);
  client->begin(*this);
}

void ServedWire::received(const Client& from, std::string_view bytes) {
  if (muted_) return;
  const std::vector<std::shared_ptr<Client>> all(clients_.begin(), clients_.end());
  for (const auto& client : all) {
    if (hub_ && client.get() != &from) client->say(bytes);
  }
  heard_(bytes);
}

void ServedWire::say(std::string_view bytes) {
  if (muted_) return;
  const std::vector<std::shared_ptr<Client>> all(clients_.begin(), clients_.end());  // one may be dropped meanwhile
  for (const auto& client : all) client->say(bytes);
}

std::uint16_t ServedWire::port() const {
  const auto* address = std::get_if<TcpAddress>(&place_);
  return address != nullptr ? address->port : std::uint16_t{0};
}

std::string ServedWire::where() const {
  return terminal_ ? text(place_) + " (" + terminal_->device() + ")" : text(place_);
}

}  // namespace lapwright::simulated
