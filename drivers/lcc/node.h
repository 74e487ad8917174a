// This program as a node on an LCC segment: gets and defends its alias, does a node's duties, and carries messages.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <functional>
#include <list>
#include <optional>
#include <string>
#include <vector>

#include "drivers/bell.h"
#include "drivers/lcc/message.h"
#include "drivers/links/link_user.h"

namespace lapwright::lcc {

struct NodeSettings {
  NodeId id;                                ///< no default: two copies of a program must never share one
  std::vector<EventId> consumed, produced;  ///< announced, so that gateways pass them on
  std::string name = "Lapwright";           ///< what users of the bus see
};

enum class Presence : std::uint8_t {
  link_down,
  choosing_alias,
  on_the_bus,
  duplicate,  ///< another node bears our ID; we stay off until the link is opened anew
};

class Expectation;

/// One thread. Messages for this node and for everybody reach whoever waits with an `Expectation`.
class Node final : public LinkUser {
 public:
  using Listener = std::function<void(const Message&, Instant heard)>;
  Node(NodeSettings settings, Clock& clock);

  /// Gets an alias whenever there is none, until `stop`: spawn it.
  boost::asio::awaitable<void> run();
  void stop();
  void give_up(const std::string& why);  ///< on the link: it is closed, then opened anew
  [[nodiscard]] Presence presence() const { return presence_; }
  [[nodiscard]] std::string trouble() const;  ///< empty on the bus; otherwise what is in the way, for people
  /// Returns once on the bus. @throws RigFault  not by the deadline
  boost::asio::awaitable<void> ready(Instant deadline);
  /// Returns once on the bus with that node's alias known. @throws RigFault  not within 1 s; at once without a link
  boost::asio::awaitable<void> reach(NodeId node);
  Bell& bell() { return bell_; }  ///< rung by every message and every change of presence
  /// Every message that this node is to hear, after its duties. Called from within `received`.
  void listen(Listener listener) { listener_ = std::move(listener); }
  void when_lost(std::function<void()> act) { when_lost_ = std::move(act); }  ///< of the link
  [[nodiscard]] int openings() const { return openings_; }                    ///< of the link
  /// To everybody. This and its like throw RigFault when not on the bus. @param urgent  before everything queued
  void tell(Mti mti, std::span<const std::uint8_t> content, bool urgent = false);
  /// To one node, whose alias must be known.
  void tell(Mti mti, NodeId destination, std::span<const std::uint8_t> content, bool urgent = false);
  void tell(Mti mti, Alias destination, std::span<const std::uint8_t> content);  ///< to whoever bears it
  [[nodiscard]] std::optional<Alias> alias_of(NodeId node) const { return book_.alias(node); }
  [[nodiscard]] std::optional<NodeId> node_of(Alias alias) const { return book_.node(alias); }
  [[nodiscard]] const NodeSettings& settings() const { return settings_; }
  [[nodiscard]] Clock& clock() { return clock_; }
  [[nodiscard]] const FrameCounts& frames() const { return frames_.counts(); }
  [[nodiscard]] std::uint64_t dropped() const { return messages_.dropped(); }  ///< frames of unfinished messages

  void opened(Outlet& outlet) override;
  void received(std::string_view bytes, Instant heard) override;
  void lost(const std::string& why) override;

 private:
  friend class Expectation;
  boost::asio::awaitable<void> choose_alias();
  void send(const Frame& frame);
  void send_control(std::uint32_t variable, bool with_id);
  void announce();
  void hear(const Frame& frame, Instant heard);
  void hear_own_alias(const std::optional<ControlFrame>& controlling);
  void hear_control(const ControlFrame& frame);
  void hear_message(const Message& message, Instant heard);
  void do_duties(const Message& message);

  NodeSettings settings_;
  Clock& clock_;
  Bell bell_;
  Outlet* outlet_ = nullptr;
  std::string why_down_ = "the station's link was not opened yet";
  Presence presence_ = Presence::link_down;
  int openings_ = 0;
  bool stopped_ = false;
  FrameReader frames_;
  MessageReader messages_;
  AliasGenerator generator_;
  Alias alias_ = 0;     ///< ours, tentative while choosing
  bool taken_ = false;  ///< somebody uses the tentative alias
  AliasBook book_;
  Listener listener_;
  std::function<void()> when_lost_;
  std::list<Expectation*> expectations_;
};

}  // namespace lapwright::lcc
