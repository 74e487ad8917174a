// A protocol driver, the link under it and those who use it, in virtual time; what the other side says is a fuzz input.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <string>
#include <string_view>

#include "drivers/links/link_user.h"
#include "drivers/virtual_clock.h"

namespace lapwright::fuzz {

/// Behaves as a real link does: what is given up takes and brings nothing more and is closed soon, what is closed is
/// opened again after a second, and while the queue is full `send` throws.
class Wire : public Outlet {
 public:
  /// @param longest  what an operation may take, whatever the other side says
  explicit Wire(Duration longest) : longest_(longest) {}

  void send(std::string_view bytes) override;
  void send_first(std::string_view bytes) override { send(bytes); }
  void cut_in(std::string_view bytes) override;
  void give_up(const std::string& why) override { given_up_ = why; }

 protected:
  [[nodiscard]] virtual LinkUser& user() = 0;
  virtual void begun_anew() {}                       ///< the link was opened
  virtual void went(std::string_view bytes) = 0;     ///< from the driver
  virtual void tell(std::string_view bytes);         ///< to the driver, if the link is up
  virtual boost::asio::awaitable<void> play() = 0;   ///< the input, then `finish`
  virtual boost::asio::awaitable<void> serve() = 0;  ///< the driver's own coroutine
  virtual void stop() = 0;                           ///< ends `serve`

  /// Opens the link and runs it all to its end.
  void run();
  boost::asio::awaitable<void> pass(Duration length);
  void unplug(const std::string& why = "unplugged");
  void fill_queue() { full_ = true; }
  /// Up to four go on at a time; others are left out. A RigFault ends one, any other exception is a finding.
  void begin(boost::asio::awaitable<void> operation);
  /// The other side is silent from now on: whoever waits has to come back.
  boost::asio::awaitable<void> finish();
  [[nodiscard]] Clock& clock() { return clock_; }

 private:
  boost::asio::awaitable<void> watched(boost::asio::awaitable<void> operation);
  void open();
  [[nodiscard]] bool closing() const;

  Duration longest_;
  VirtualClock clock_;
  boost::asio::io_context context_;
  bool up_ = false;
  bool full_ = false;
  std::string given_up_;
  Instant reopened_at_{};
  int operations_ = 0;
};

}  // namespace lapwright::fuzz
