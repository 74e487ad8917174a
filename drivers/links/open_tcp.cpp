#include "drivers/links/open_tcp.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <cmath>
#include <memory>

#include "drivers/links/link_errors.h"

namespace lapwright {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

constexpr int idle_before_probe_s = 3;
constexpr int between_probes_s = 2;
constexpr int probes = 3;
constexpr unsigned unacknowledged_ms = 5000;  // then the connection is dead

void set_option(int descriptor, int level, int option, int value) {
  // An option that this kernel lacks costs only time: the drivers watch for silence themselves.
  (void)::setsockopt(descriptor, level, option, &value, sizeof value);
}

void notice_dead_peers(int descriptor) {
  set_option(descriptor, SOL_SOCKET, SO_KEEPALIVE, 1);
  set_option(descriptor, IPPROTO_TCP, TCP_KEEPIDLE, idle_before_probe_s);
  set_option(descriptor, IPPROTO_TCP, TCP_KEEPINTVL, between_probes_s);
  set_option(descriptor, IPPROTO_TCP, TCP_KEEPCNT, probes);
  set_option(descriptor, IPPROTO_TCP, TCP_USER_TIMEOUT, static_cast<int>(unacknowledged_ms));
  set_option(descriptor, IPPROTO_TCP, TCP_NODELAY, 1);
}

/// Closes the socket when time is up. What a timer has already posted comes even after its end: `over` is shared.
class TimeLimit {
 public:
  TimeLimit(tcp::resolver& resolver, tcp::socket& socket, Duration limit) : timer_(socket.get_executor(), limit) {
    timer_.async_wait([&resolver, &socket, state = state_](const boost::system::error_code& stopped) {
      if (stopped || state->over) return;
      state->late = true;
      resolver.cancel();
      boost::system::error_code ignored;  // a socket that is not open yet is as good as closed
      socket.close(ignored);
    });
  }
  ~TimeLimit() { state_->over = true; }
  TimeLimit(const TimeLimit&) = delete;
  TimeLimit& operator=(const TimeLimit&) = delete;
  [[nodiscard]] bool late() const { return state_->late; }

 private:
  struct State {
    bool over = false;
    bool late = false;
  };
  std::shared_ptr<State> state_ = std::make_shared<State>();
  asio::steady_timer timer_;
};

}  // namespace

asio::awaitable<asio::posix::stream_descriptor> open_tcp(TcpAddress address, Duration limit) {
  const auto executor = co_await asio::this_coro::executor;
  tcp::resolver resolver(executor);
  tcp::socket socket(executor);
  const TimeLimit guard(resolver, socket, limit);
  const LinkAddress where = address;
  const std::string port = std::to_string(address.port);
  const auto [unresolved, endpoints] =
      co_await resolver.async_resolve(address.host, port, asio::as_tuple(asio::use_awaitable));
  boost::system::error_code error = unresolved;
  if (!error) {
    const auto [unconnected, endpoint] =
        co_await asio::async_connect(socket, endpoints, asio::as_tuple(asio::use_awaitable));
    error = unconnected;
  }
  if (guard.late())
    throw LinkDown(text(where) + ": no answer within " + std::to_string(std::lround(in_seconds(limit))) + " s");
  if (error) throw LinkDown(text(where) + ": " + error.message() + "; is it running, and is the address right?");
  notice_dead_peers(socket.native_handle());
  co_return asio::posix::stream_descriptor(executor, socket.release());
}

}  // namespace lapwright
