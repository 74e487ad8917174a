// A command station's node for one DCC address on an LCC bus: its set speed, and who controls it.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "tuning/throttle.h"

namespace lapwright::simulated {

/// Shares nothing with the driver. What it answers goes to the `Reply` that it is given.
class TrainNode {
 public:
  using Bytes = std::vector<std::uint8_t>;
  using Reply = std::function<void(unsigned type, const Bytes& content)>;
  TrainNode(int address, std::uint16_t alias, int packet_steps)
      : address_(address), alias_(alias), packet_steps_(packet_steps) {}

  [[nodiscard]] int address() const { return address_; }
  [[nodiscard]] std::uint16_t alias() const { return alias_; }
  [[nodiscard]] std::uint64_t id() const;
  void hear(std::uint16_t source, const Bytes& command, const Reply& reply);
  void emergency_stop() { estopped_ = changed_ = true; }
  void note_change() { changed_ = true; }
  /// Whether there is something new for the engine to obey; once.
  [[nodiscard]] bool take_change();
  [[nodiscard]] bool estopped() const { return estopped_; }
  [[nodiscard]] ThrottleCommand command() const;

 private:
  void assign(std::uint16_t source, const Bytes& command, const Reply& reply);

  int address_;
  std::uint16_t alias_;
  int packet_steps_;
  std::uint16_t half_ = 0;  ///< the set speed
  bool estopped_ = false;
  bool changed_ = false;
  std::uint16_t controller_ = 0;
  Bytes controller_id_ = Bytes(6, 0);
};

}  // namespace lapwright::simulated
