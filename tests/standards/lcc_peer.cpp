#include "tests/standards/lcc_peer.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

namespace lapwright::lcc {

StationSettings Peer::settings() {
  StationSettings result;
  result.node.id = NodeId::parse("02.01.0D.4C.43.01").value();
  result.node.consumed = {EventId::parse("01.01.02.00.00.FB.00.0C").value()};
  result.node.produced = {EventId::parse("05.01.01.01.22.60.00.01").value()};
  result.packet_steps = 128;
  return result;
}

void Peer::usual_train() {
  when(":X19914DD8N090099FFFFFFF3EB;", {":X10701E7AN060100000003;", ":X19544E7AN090099FFFFFFF3EB;"});
  when(":X195EBDD8N1E7A20010002010D;", {":X191E9E7AN0DD8200100;"});
  when(":X195EBDD8N1E7A30018C02010D;", {":X191E9E7AN1DD8300102010D4C;", ":X191E9E7AN2DD843010000;"});
  when(":X195EBDD8N0E7A10;", {":X191E9E7AN1DD8100000018000;", ":X191E9E7AN2DD8FFFF;"});
}

void Peer::run(Script script) {
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

asio::awaitable<void> Peer::take_train() {
  const dcc::VehicleAddress three = dcc::VehicleAddress::short_form(3);
  co_await station.take(three);
}

asio::awaitable<std::string> Peer::fault_of(asio::awaitable<void> operation) {
  try {
    co_await std::move(operation);
  } catch (const RigFault& fault) {
    co_return fault.what();
  }
  co_return std::string();
}

void Peer::take(std::string_view bytes) {
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

asio::awaitable<void> Peer::deliver() {
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

asio::awaitable<void> Peer::play(Script script) {
  co_await script(*this);
  over = true;
  station.stop();
}

}  // namespace lapwright::lcc
