// One train node as an engine's throttle: found by its DCC address, taken, driven, stopped and given back.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>
#include <string>

#include "drivers/dcc/address.h"
#include "drivers/lcc/node.h"
#include "drivers/lcc/speed.h"
#include "drivers/safety/stop_reason.h"

namespace lapwright::lcc {

/// Commands of the Train Control Standard. Every operation throws RigFault with what the node said and what to do.
class Train {
 public:
  Train(Node& node, StepLaw law, int packet_steps);

  /// Finds or creates the train node, and becomes its controller.
  boost::asio::awaitable<void> take(dcc::VehicleAddress engine);
  boost::asio::awaitable<void> give_back();
  boost::asio::awaitable<void> drive(ThrottleCommand command);
  /// Emergency stop, seen to be done. Also of an engine whose controls were lost: nothing else is sent to it.
  boost::asio::awaitable<void> halt();
  /// The same, sent and not waited for. Without an engine or a bus it does nothing: there is nobody to be told.
  void send_halt();
  [[nodiscard]] const std::optional<NodeId>& node_id() const { return train_; }
  [[nodiscard]] bool ours() const { return ours_; }
  [[nodiscard]] bool commanded_to_run() const { return runs_; }
  /// Why the engine taken is not ours any more; empty otherwise.
  [[nodiscard]] const std::optional<Stop>& lost() const { return lost_; }
  void lose_controls(StopReason reason, const std::string& why);
  /// Asks for the set speed, or for the alias where that is not known, and does not wait: any answer is a sign of life.
  void ask_for_a_word();
  /// Whether there is an engine that may run: the one taken, or one that was left behind and is still on the bus.
  [[nodiscard]] bool may_run() const { return train_ || (stray_ && node_.alias_of(*stray_)); }

  /// Whether commands of other throttles would be noticed.
  [[nodiscard]] bool listening() const { return listening_; }

  /// To be told of every message: answers heartbeats, and notices commands that others give the engine.
  void hear(const Message& message);
  /// The link was lost: nothing is ours any more.
  void forget();

 private:
  using Bytes = std::vector<std::uint8_t>;
  boost::asio::awaitable<NodeId> find(dcc::VehicleAddress engine);
  boost::asio::awaitable<void> become_controller(NodeId train);
  boost::asio::awaitable<void> listen_in(NodeId train);
  /// The node's own set speed. Empty: it does not know.
  boost::asio::awaitable<std::optional<HalfSpeed>> set_speed(NodeId train);
  boost::asio::awaitable<std::optional<Message>> ask(NodeId train, Bytes command, Bytes reply_begins);
  boost::asio::awaitable<void> name_of(Alias stranger);
  boost::asio::awaitable<void> space_out();
  void command(NodeId train, const Bytes& bytes, bool urgent);
  void hear_from_train(const Message& message);
  void leave_behind();
  void check() const;

  Node& node_;
  StepLaw law_;
  int packet_steps_;
  std::optional<NodeId> train_;
  std::optional<NodeId> stray_;  ///< was taken, and may run on: the link was lost, or another engine is to be taken
  int asking_ = 0;               ///< questions whose answer is waited for
  int halts_ = 0;                ///< so that no command that was waiting goes out after a stop
  bool ours_ = false;
  bool runs_ = false;  ///< a step was commanded since the last stop
  bool listening_ = false;
  std::optional<Stop> lost_;  ///< why it is not ours any more
  Instant last_command_{};
};

}  // namespace lapwright::lcc
