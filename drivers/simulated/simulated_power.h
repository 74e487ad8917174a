// The simulated railway's feed, as whoever makes it dead sees it.
#pragma once

#include "drivers/safety/track_power.h"
#include "drivers/simulated/simulated_rig.h"

namespace lapwright::simulated {

class SimulatedPower final : public TrackPower {
 public:
  /// It outlives this.
  explicit SimulatedPower(SimulatedRig& rig) : rig_(rig) {}
  boost::asio::awaitable<void> set_power(bool on) override {
    rig_.set_power(on);
    co_return;
  }
  void send_halt() override { rig_.send_halt(); }
  void cut() override { rig_.set_power(false); }
  void vouch() override {}
  [[nodiscard]] std::optional<Stop> lost() const override { return std::nullopt; }

 private:
  SimulatedRig& rig_;
};

}  // namespace lapwright::simulated
