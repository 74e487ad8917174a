// The simulated command station's end of an LCC bus: a station node, and one train node for the engine on the track.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/bell.h"
#include "drivers/lcc/gridconnect.h"
#include "drivers/simulated/simulated_rig.h"

namespace lapwright::simulated {

/// What the bus looks like.
struct LccEndSettings {
  int address = 3;                          ///< the engine's; short up to 127
  bool feedback = true;                     ///< the station hears decoders' replies, and says so of each write
  bool bit_writes = true;                   ///< it takes the address modifiers for single bits
  std::vector<std::uint64_t> gate_blocked;  ///< event of each gate; empty: gates don't report here
  std::vector<std::uint64_t> gate_clear;
};

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
  void hear_train_command(std::uint16_t source, const Bytes& content);
  void assign(std::uint16_t source, const Bytes& content);
  void search(const Bytes& event);
  void switch_power(bool on);
  void enter_train();
  [[nodiscard]] std::uint64_t train_id() const;
  void set_speed(std::uint16_t half);
  boost::asio::awaitable<void> obey();
  boost::asio::awaitable<void> serve_datagram();
  void frame(std::uint32_t header, const Bytes& data);
  void global(unsigned type, std::uint16_t alias, const Bytes& data);
  void addressed(unsigned type, std::uint16_t to, const Bytes& content);
  void datagram(std::uint16_t to, const Bytes& content);

  struct Datagram {
    std::uint16_t from = 0;
    Bytes content;
  };
  SimulatedRig& rig_;
  LccEndSettings settings_;
  Say say_;
  Power power_;
  Bell bell_;
  bool stopped_ = false;
  lcc::FrameReader reader_;
  std::map<std::uint32_t, Bytes> unfinished_;  ///< by source and type
  std::deque<Datagram> datagrams_;
  bool train_there_ = false;
  int packet_steps_ = 128;
  std::uint16_t half_ = 0;  ///< the set speed
  bool estopped_ = false;
  bool powered_ = true;
  bool moved_ = false;  ///< there is something to obey
  std::uint16_t controller_ = 0;
  Bytes controller_id_ = Bytes(6, 0);
};

}  // namespace lapwright::simulated
