// The simulated command station's end of an LCC bus: a station node, and a train node for each address asked for.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "drivers/bell.h"
#include "drivers/lcc/gridconnect.h"
#include "drivers/simulated/served/train_node.h"
#include "drivers/simulated/simulated_rig.h"

namespace lapwright::simulated {

/// What the bus looks like.
struct LccEndSettings {
  int address = 3;                          ///< of the engine on the track; short up to 127
  bool feedback = true;                     ///< the station hears decoders' replies, and says so of each write
  bool bit_writes = true;                   ///< it takes the address modifiers for single bits
  std::vector<std::uint64_t> gate_blocked;  ///< event of each gate; empty: gates don't report here
  std::vector<std::uint64_t> gate_clear;
  std::vector<std::uint64_t> routes;  ///< event that sets each route, from 0; empty: no turnouts are on this bus
};

/// As stations do, it makes a train node for any address that is searched for; only one of them has an engine here.
/// Shares nothing with the driver but the form of a frame. No I/O: bytes come by `hear`, and go to `say`. Spawn `run`.
class LccEnd {
 public:
  using Say = std::function<void(std::string_view)>;
  using Power = std::function<void()>;
  /// @param power  told when `powered` changed
  LccEnd(SimulatedRig& rig, LccEndSettings settings, Say say, Power power);

  boost::asio::awaitable<void> run();
  void stop();
  void hear(std::string_view bytes);
  /// A gate's beam changed.
  void edge(int gate, bool blocked);
  [[nodiscard]] bool powered() const { return powered_; }

 private:
  using Bytes = std::vector<std::uint8_t>;
  void hear_control(const lcc::Frame& frame);
  void hear_global(unsigned type, std::uint16_t source, const Bytes& data);
  void hear_addressed(TrainNode& train, unsigned type, std::uint16_t source, const Bytes& content);
  void search(const Bytes& event);
  void tell_gate(std::uint64_t event);
  void switch_power(bool on);
  TrainNode& enter_train(int address, int packet_steps);
  [[nodiscard]] TrainNode* train_of(int address);
  [[nodiscard]] TrainNode* train_at(unsigned alias);
  boost::asio::awaitable<void> obey(const TrainNode& train);
  boost::asio::awaitable<void> serve_datagram();
  void frame(std::uint32_t header, const Bytes& data);
  void global(unsigned type, std::uint16_t alias, const Bytes& data);
  void addressed(const TrainNode& from, unsigned type, std::uint16_t to, const Bytes& content);
  void datagram(const TrainNode& from, std::uint16_t to, const Bytes& content);

  struct Datagram {
    TrainNode* to = nullptr;
    std::uint16_t from = 0;
    Bytes content;
  };
  struct Access;
  boost::asio::awaitable<std::uint16_t> access(const Access& wanted, Bytes& reply);
  SimulatedRig& rig_;
  LccEndSettings settings_;
  Say say_;
  Power power_;
  Bell bell_;
  bool stopped_ = false;
  lcc::FrameReader reader_;
  std::map<std::tuple<unsigned, unsigned, std::uint16_t>, Bytes> unfinished_;  ///< by type, destination and source
  std::deque<Datagram> datagrams_;
  std::deque<TrainNode> trains_;  ///< their places don't change
  std::set<std::size_t> blocked_gates_;
  bool powered_ = true;
};

}  // namespace lapwright::simulated
