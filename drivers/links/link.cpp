#include "drivers/links/link.h"

#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <csignal>
#include <deque>

#include "drivers/links/link_errors.h"
#include "drivers/links/open_serial.h"
#include "drivers/links/open_tcp.h"
#include "drivers/links/traffic_log.h"

namespace lapwright {
namespace asio = boost::asio;
using boost::system::error_code;
namespace {

constexpr std::size_t most_queued = 65536;
constexpr Duration settled_after = std::chrono::seconds(2);  // a link that lasts so long starts its back-off anew

std::string describe(const error_code& error) {
  // A device that is unplugged reads as its end, again and again; writing to it is an I/O error.
  if (error == asio::error::eof || error == asio::error::broken_pipe || error.value() == EIO) return "hang-up";
  return error.message();
}

}  // namespace

/// What completion handlers refer to; it outlives the link if need be. `owner` is null once it is closed.
struct Link::Session {
  Session(asio::posix::stream_descriptor opened, Link& link)
      : stream(std::move(opened)), silence(stream.get_executor()), owner(&link), heard(link.clock_.now()) {}

  void close(const std::string& reason) {
    if (owner == nullptr) return;
    why = reason;
    owner = nullptr;
    silence.cancel();
    error_code ignored;  // whatever it is: the descriptor is gone afterwards
    stream.close(ignored);
  }
  void watch_silence(const std::shared_ptr<Session>& self, Duration limit) {
    silence.expires_at(heard + limit);
    silence.async_wait([this, self, limit](const error_code& stopped) {
      if (stopped || owner == nullptr) return;
      if (owner->clock_.now() - heard < limit) return watch_silence(self, limit);
      close("silent for " + std::to_string(std::chrono::duration_cast<std::chrono::milliseconds>(limit).count()) +
            " ms");
    });
  }

  asio::posix::stream_descriptor stream;
  asio::steady_timer silence;
  Link* owner;
  Instant heard;
  std::string why;  ///< once closed
  std::deque<std::string> queue;
  std::size_t queued = 0;  ///< bytes
  std::string in_flight;
  std::size_t flown = 0;  ///< bytes of it that the kernel took
  bool writing = false;
};

Link::Link(LinkSettings settings, LinkUser& user, Clock& clock, TrafficLog* log)
    : settings_(std::move(settings)), user_(user), clock_(clock), log_(log) {
  health_.why = "not opened yet";
  health_.since = clock.now();
  // Sockets are written as plain descriptors: a peer that is gone is an error to be handled, not a signal to die of.
  std::signal(SIGPIPE, SIG_IGN);
}

Link::~Link() {
  if (session_) session_->close("closed");
}

asio::awaitable<void> Link::open() {
  const auto executor = co_await asio::this_coro::executor;
  if (const auto* serial = std::get_if<SerialAddress>(&settings_.address)) {
    session_ = std::make_shared<Session>(open_serial(executor, *serial), *this);
  } else {
    TcpAddress peer = std::get<TcpAddress>(settings_.address);
    asio::posix::stream_descriptor stream = co_await open_tcp(std::move(peer), settings_.connect_limit);
    session_ = std::make_shared<Session>(std::move(stream), *this);
  }
  session_->stream.native_non_blocking(true);
}

asio::awaitable<void> Link::run() {
  Duration retry = settings_.first_retry;
  while (!stopped_) {
    std::string failure;
    try {
      co_await open();
    } catch (const LinkInUse&) {
      if (health_.openings == 0) throw;
      failure = "in use by another program";
    } catch (const LinkDown& down) {
      failure = down.what();
    }
    if (stopped_) break;
    if (session_) {
      const Instant opened = clock_.now();
      co_await serve();
      if (clock_.now() - opened >= settled_after) retry = settings_.first_retry;
    } else {
      went_down(failure);
    }
    co_await pause(retry);
    retry = std::min(2 * retry, settings_.longest_retry);
  }
  if (session_) session_->close("closed");
}

asio::awaitable<void> Link::pause(Duration length) {
  const Instant until = clock_.now() + length;
  while (!stopped_ && clock_.now() < until) co_await bell_.wait_until(clock_, until);
}

asio::awaitable<void> Link::serve() {
  const std::shared_ptr<Session> session = session_;
  health_.up = true;
  health_.why.clear();
  health_.since = clock_.now();
  ++health_.openings;
  if (log_ != nullptr) log_->opened(settings_.name, text(settings_.address));
  if (settings_.silence > Duration{}) session->watch_silence(session, settings_.silence);
  user_.opened(*this);
  std::array<char, 4096> piece{};
  const auto room = asio::buffer(piece);
  while (session->owner != nullptr) {
    const auto [error, size] = co_await session->stream.async_read_some(room, asio::as_tuple(asio::use_awaitable));
    if (session->owner == nullptr) break;
    if (error) {
      session->close(describe(error));
      break;
    }
    session->heard = clock_.now();
    health_.received += size;
    const std::string_view bytes(piece.data(), size);
    if (log_ != nullptr) log_->came(settings_.name, bytes);
    user_.received(bytes, session->heard);
  }
  session_.reset();
  went_down(session->why);
  user_.lost(session->why);
}

void Link::went_down(const std::string& why) {
  if (health_.up && log_ != nullptr) log_->lost(settings_.name, why);
  if (health_.up || health_.why != why) health_.since = clock_.now();
  health_.up = false;
  health_.why = why;
}

void Link::stop() {
  stopped_ = true;
  if (session_) session_->close("closed");
  bell_.ring();
}

void Link::give_up(const std::string& why) {
  if (session_) session_->close(why);
}

void Link::send(std::string_view bytes) { queue(bytes, Place::last); }
void Link::send_first(std::string_view bytes) { queue(bytes, Place::first); }

void Link::queue(std::string_view bytes, Place place) {
  const std::string where = settings_.name + " (" + text(settings_.address) + ")";
  if (!session_ || session_->owner == nullptr) throw RigFault(where + " is down: " + health_.why);
  if (session_->queued + bytes.size() > most_queued) {
    throw RigFault(where + " takes no more bytes: the device does not read what it is sent");
  }
  session_->queued += bytes.size();
  auto& waiting = session_->queue;
  waiting.emplace(place == Place::first ? waiting.begin() : waiting.end(), bytes);
  pump(session_);
}

void Link::cut_in(std::string_view bytes) {
  if (!session_ || session_->owner == nullptr) {
    throw RigFault(settings_.name + " (" + text(settings_.address) + ") is down: " + health_.why);
  }
  session_->queue.clear();
  session_->queued = 0;
  const int descriptor = session_->stream.native_handle();
  if (::isatty(descriptor) == 1) ::tcflush(descriptor, TCOFLUSH);
  const ssize_t taken = ::write(descriptor, bytes.data(), bytes.size());
  const std::size_t gone = taken > 0 ? static_cast<std::size_t>(taken) : 0;
  health_.sent += gone;
  if (log_ != nullptr && gone > 0) log_->went(settings_.name, bytes.substr(0, gone));
  if (gone < bytes.size()) queue(bytes.substr(gone), Place::first);
}

void Link::pump(const std::shared_ptr<Session>& session) {
  if (session->owner == nullptr || session->writing) return;
  if (session->flown == session->in_flight.size()) {
    if (session->queue.empty()) return;
    session->in_flight = std::move(session->queue.front());
    session->queue.pop_front();
    session->queued -= session->in_flight.size();
    session->flown = 0;
    Link& link = *session->owner;
    if (link.log_ != nullptr) link.log_->went(link.settings_.name, session->in_flight);
  }
  session->writing = true;
  const auto rest = asio::buffer(session->in_flight) + session->flown;
  session->stream.async_write_some(rest, [session](const error_code& error, std::size_t size) {
    session->writing = false;
    if (session->owner == nullptr) return;
    if (error) return session->close(describe(error));
    session->flown += size;
    session->owner->health_.sent += size;
    pump(session);
  });
}

}  // namespace lapwright
