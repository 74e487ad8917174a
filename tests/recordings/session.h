// The real drivers on the virtual clock, what is asked of them, and a protocol of all that comes of it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "drivers/virtual_clock.h"
#include "drivers/wired_rig.h"
#include "tests/recordings/case.h"

namespace lapwright::recordings {

/// What a driver sent, and when.
struct Sent {
  Instant at;
  std::string link;
  std::string bytes;
};

/// Links, station, board and rig of one case. Whoever feeds them (a recording, or simulated ends) calls `open`, `feed`
/// and `lose`; the requests of the case come by themselves at their times.
class Session {
 public:
  explicit Session(const Case& given);
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  [[nodiscard]] VirtualClock& clock() { return clock_; }
  [[nodiscard]] boost::asio::io_context& context() { return context_; }
  void open(const std::string& link, const std::string& where);
  void feed(const std::string& link, std::string_view bytes);
  void lose(const std::string& link, const std::string& why);
  /// Told of all that the drivers send, as it is sent.
  std::function<void(const Sent&)> on_send;
  /// Told of requests that are not for the drivers but for the world beyond the wires.
  std::function<void(const Ask&)> on_world;

  /// From the beginning to the end of the case. Call it once.
  void run();
  /// One event a line, with its virtual time; the last lines count what was met.
  [[nodiscard]] const std::vector<std::string>& protocol() const { return protocol_; }
  [[nodiscard]] const std::vector<Sent>& sent() const { return sent_; }

 private:
  class Wire;
  struct Working;  // a request that is not through yet
  using Words = std::vector<std::string>;
  Wire& wire(const std::string& link);
  void tell(const std::string& what);
  void look();  // for changes of what the drivers say of themselves
  void count();
  boost::asio::awaitable<void> keep_looking();
  boost::asio::awaitable<void> ask_all();
  boost::asio::awaitable<void> serve(Ask ask);
  boost::asio::awaitable<std::string> answer(Words words);
  boost::asio::awaitable<std::string> answer_cv(Words words);
  boost::asio::awaitable<std::string> all_edges();
  void spawn(boost::asio::awaitable<void> work);

  Case case_;
  VirtualClock clock_;
  std::vector<std::string> protocol_;
  std::vector<Sent> sent_;
  std::vector<std::string> open_;  // requests without a result so far
  std::string station_said_, board_said_;
  std::unique_ptr<lcc::LccStation> station_;
  std::unique_ptr<lcc::EventGates> event_gates_;
  std::unique_ptr<trackside::Board> board_;
  std::unique_ptr<WiredRig> rig_;
  std::unique_ptr<Wire> station_wire_, board_wire_;
  boost::asio::io_context context_;  // the last: what it runs refers to all of the above
};

}  // namespace lapwright::recordings
