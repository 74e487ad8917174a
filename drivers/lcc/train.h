// One train node as an engine's throttle: found by its DCC address, taken, driven, stopped and given back.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>
#include <string>

#include "drivers/dcc/address.h"
#include "drivers/lcc/node.h"
#include "drivers/lcc/speed.h"

namespace lapwright::lcc {

/// Commands of the Train Control Standard. Every operation throws RigFault with what the node said and what to do.
class Train {
 public:
  Train(Node& node, StepLaw law, int packet_steps);

  /// Finds or creates the train node, and becomes its controller.
  boost::asio::awaitable<void> take(dcc::VehicleAddress engine);
  boost::asio::awaitable<void> give_back();
  boost::asio::awaitable<void> drive(ThrottleCommand command);
  /// Emergency stop, seen to be done.
  boost::asio::awaitable<void> halt();
  /// The same, sent and not waited for. Without a train or a bus it does nothing: there is nobody to be told.
  void send_halt();
  /// The node's own set speed. Empty: it does not know.
  boost::asio::awaitable<std::optional<HalfSpeed>> set_speed();
  [[nodiscard]] const std::optional<NodeId>& node_id() const { return train_; }

  /// Whether commands of other throttles would be noticed.
  [[nodiscard]] bool listening() const { return listening_; }

  /// To be told of every message: answers heartbeats, and notices commands that others give the engine.
  void hear(const Message& message);
  /// Of the bus lost or the controls lost: nothing is ours any more.
  void forget();

 private:
  using Bytes = std::vector<std::uint8_t>;
  boost::asio::awaitable<void> find(dcc::VehicleAddress engine);
  boost::asio::awaitable<void> become_controller();
  boost::asio::awaitable<void> listen_in();
  boost::asio::awaitable<std::optional<Message>> ask(Bytes command, Bytes reply_begins, Duration limit);
  boost::asio::awaitable<void> space_out();
  void command(const Bytes& bytes, bool urgent);
  void check() const;

  Node& node_;
  StepLaw law_;
  int packet_steps_;
  std::optional<NodeId> train_;
  bool ours_ = false;
  bool listening_ = false;
  std::string trouble_;  ///< why it is not ours any more
  Instant last_command_{};
};

}  // namespace lapwright::lcc
