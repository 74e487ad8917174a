// The other side of an LCC bus as a list of answers: frames that are expected, and the frames that they bring.
#pragma once

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
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

/// Our node has the ID 02.01.0D.4C.43.01, so its first alias is DD8; the train E7A is DCC short 3: as in the worked
/// frames of reference/lcc.md, most of which were exchanged with an open implementation.
struct Peer : Outlet {
  using Script = std::function<asio::awaitable<void>(Peer&)>;
  Peer() {
    when(":X17020DD8N;", {});
    when(":X195EBDD8N2E7A4C4301;", {});
  }

  static StationSettings settings() {
    StationSettings result;
    result.node.id = NodeId::parse("02.01.0D.4C.43.01").value();
    result.node.consumed = {EventId::parse("01.01.02.00.00.FB.00.0C").value()};
    result.packet_steps = 128;
    return result;
  }

  /// From now on this frame is answered so, once or always.
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
  void usual_train() {
    when(":X19914DD8N090099FFFFFFF3EB;", {":X10701E7AN060100000003;", ":X19544E7AN090099FFFFFFF3EB;"});
    when(":X195EBDD8N1E7A20010002010D;", {":X191E9E7AN0DD8200100;"});
    when(":X195EBDD8N1E7A30018C02010D;", {":X191E9E7AN1DD8300102010D4C;", ":X191E9E7AN2DD843010000;"});
    when(":X195EBDD8N0E7A10;", {":X191E9E7AN1DD8100000018000;", ":X191E9E7AN2DD8FFFF;"});
  }

  void run(Script script) {
    asio::io_context context;
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    station.node().opened(*this);
    asio::co_spawn(context, station.run(), rethrow);
    asio::co_spawn(context, deliver(), rethrow);
    asio::co_spawn(context, play(std::move(script)), rethrow);
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
  }
  asio::awaitable<void> pass(double length_s) { co_await clock.sleep_for(seconds(length_s)); }
  asio::awaitable<void> take_train() {
    const dcc::VehicleAddress three = dcc::VehicleAddress::short_form(3);
    co_await station.take(three);
  }
  /// What the fault of an operation says; empty if there is none.
  asio::awaitable<std::string> fault_of(asio::awaitable<void> operation) {
    try {
      co_await std::move(operation);
    } catch (const RigFault& fault) {
      co_return fault.what();
    }
    co_return std::string();
  }

  VirtualClock clock;
  LccStation station{settings(), clock};
  std::map<std::string, std::vector<std::string>> rules;
  std::vector<std::string> sent;     ///< all frames that came from our node, LF taken off
  std::vector<std::string> pending;  ///< answers on their way
  std::multimap<Instant, std::function<void()>> acts;
  std::string given_up;
  bool over = false;

 private:
  void take(std::string_view bytes) {
    std::string text(bytes);
    for (std::size_t end = text.find('\n'); end != std::string::npos; end = text.find('\n')) {
      const std::string frame = text.substr(0, end);
      text.erase(0, end + 1);
      sent.push_back(frame);
      const auto rule = rules.find(frame);
      if (rule != rules.end()) pending.insert(pending.end(), rule->second.begin(), rule->second.end());
    }
    BOOST_TEST(text.empty());
  }
  asio::awaitable<void> deliver() {
    while (!over) {
      co_await clock.sleep_for(std::chrono::milliseconds(1));
      const std::vector<std::string> now = std::exchange(pending, {});
      for (const std::string& frame : now) hear(frame);
      while (!acts.empty() && acts.begin()->first <= clock.now()) {
        const auto act = acts.extract(acts.begin());
        act.mapped()();
      }
    }
  }
  asio::awaitable<void> play(Script script) {
    co_await script(*this);
    over = true;
    station.stop();
  }
};

}  // namespace lapwright::lcc
