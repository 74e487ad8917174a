// An LCC command station: node, train and CVs behind the interface that rigs are built of.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "drivers/lcc/cv_space.h"
#include "drivers/lcc/event_gates.h"
#include "drivers/lcc/node.h"
#include "drivers/lcc/pulse.h"
#include "drivers/lcc/train.h"
#include "drivers/station.h"

namespace lapwright::lcc {

struct StationSettings {
  NodeSettings node;
  StepLaw steps;
  int packet_steps = 28;  ///< 28 or 128: which packets a new train is to get; must suit the target sheet
  CvHabits cvs;
  /// The engine taken counts as lost when its train node says nothing for so long, though it is asked; 0: never.
  Duration silence = std::chrono::milliseconds(750);
};

/// Give `node()` to the link, spawn `run()`.
class LccStation final : public Station {
 public:
  LccStation(StationSettings settings, Clock& clock);

  boost::asio::awaitable<void> run();
  void stop();
  [[nodiscard]] Node& node() { return node_; }
  /// Empty when all is well; otherwise what is in the way, for people.
  [[nodiscard]] std::string trouble() const { return node_.trouble(); }
  /// Whether other throttles' commands to the engine taken would be noticed.
  [[nodiscard]] bool listening() const { return train_.listening(); }
  /// Whether this station has told whether track power is off.
  [[nodiscard]] bool tells_power() const override { return tells_power_; }
  /// Gates that report over the bus; null until `use_event_gates`.
  void use_event_gates(EventGates& gates) { gates_ = &gates; }

  boost::asio::awaitable<void> take(dcc::VehicleAddress engine) override;
  boost::asio::awaitable<void> give_back() override;
  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  /// By the emergency-off events, which every station hears; before power comes back the engine's speed is set to 0. A
  /// station that has told whether power is off has to tell it again.
  boost::asio::awaitable<void> set_power(bool on) override;
  void send_halt() override { train_.send_halt(); }
  void send_power_off() override;
  [[nodiscard]] std::optional<Stop> lost() const override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  /// By its event; one of an accessory decoder is the well-known one.
  boost::asio::awaitable<void> set_turnout(TurnoutOrder order) override;

 private:
  [[nodiscard]] NodeId train_id() const;

  Clock& clock_;
  int packet_steps_;
  Node node_;
  Train train_;
  CvSpace cvs_;
  Pulse pulse_;
  EventGates* gates_ = nullptr;
  bool off_by_us_ = false;  ///< track power
  bool tells_power_ = false;
  bool off_ = true;  ///< as far as it tells
};

}  // namespace lapwright::lcc
