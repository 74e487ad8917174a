// The other side of an LCC bus as a list of answers: frames that are expected, and the frames that they bring.
#pragma once

#include <algorithm>
#include <boost/asio/awaitable.hpp>
#include <boost/test/unit_test.hpp>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "drivers/lcc/lcc_station.h"
#include "drivers/virtual_clock.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {

namespace asio = boost::asio;

inline constexpr const char* acknowledged = ":X19A28E7AN0DD880;";  ///< the train took a datagram; a reply follows
inline constexpr const char* read_cv5 = ":X1AE7ADD8N204000000004F801;";

inline bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Our node has the ID 02.01.0D.4C.43.01, so its first alias is DD8; the train E7A is DCC short 3: as in the worked
/// frames of reference/lcc.md, most of which were exchanged with an open implementation.
struct Peer : Outlet {
  using Script = std::function<asio::awaitable<void>(Peer&)>;
  static StationSettings settings();

  /// From now on this frame is answered so.
  void when(const std::string& frame, std::vector<std::string> answers) { rules[frame] = std::move(answers); }
  void hear(const std::string& frames) { station.node().received(frames, clock.now()); }
  void later(double after_s, std::function<void()> act) {
    acts.emplace(clock.now() + seconds(after_s), std::move(act));
  }
  [[nodiscard]] int count(const std::string& frame) const {
    return static_cast<int>(std::count(sent.begin(), sent.end(), frame));
  }

  void send(std::string_view bytes) override { take(bytes); }
  void send_first(std::string_view bytes) override { take(bytes); }
  void cut_in(std::string_view bytes) override { take(bytes); }
  void give_up(const std::string& why) override { given_up = why; }

  /// The rules of a train that can be found, taken and listened to, and that stands after an emergency stop.
  void usual_train();

  /// Plays the script beside our node, which the peer lets onto the bus.
  void run(Script script);
  asio::awaitable<void> pass(double length_s) { co_await clock.sleep_for(seconds(length_s)); }
  asio::awaitable<void> take_train();
  /// What the fault of an operation says; empty if there is none.
  asio::awaitable<std::string> fault_of(asio::awaitable<void> operation);

  VirtualClock clock;
  LccStation station{settings(), clock};
  std::map<std::string, std::vector<std::string>> rules;
  std::vector<std::string> sent;     ///< all frames that came from our node, LF taken off
  std::vector<std::string> pending;  ///< answers on their way
  std::multimap<Instant, std::function<void()>> acts;
  std::string given_up;
  bool over = false;

 private:
  void take(std::string_view bytes);
  asio::awaitable<void> deliver();
  asio::awaitable<void> play(Script script);
};

/// With a train that is ours before the script begins. @tparam Self  the fixture, as its scripts see it
template <class Self>
struct PeerWithTrain : Peer {
  using Work = std::function<asio::awaitable<void>(Self&)>;
  void work(Work script) {
    usual_train();
    run([this, script = std::move(script)](Peer&) -> asio::awaitable<void> {
      co_await take_train();
      co_await script(static_cast<Self&>(*this));
    });
  }
  /// The value, "nothing", or what the fault says.
  asio::awaitable<std::string> read(int cv) {
    try {
      const std::optional<std::uint8_t> value = co_await station.read_cv(cv);
      co_return value ? std::to_string(*value) : "nothing";
    } catch (const RigFault& fault) {
      co_return fault.what();
    }
  }
};

}  // namespace lapwright::lcc
