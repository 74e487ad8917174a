// The simulated railway as a test stand: a fresh railway for each engine, with the engine that answers to the address.
#pragma once

#include "daemon/configuration.h"
#include "daemon/test_stand.h"

namespace lapwright {

class SimulatedStand final : public TestStand {
 public:
  /// Both outlive the stand.
  SimulatedStand(const SimulatedSetup& setup, Clock& clock) : setup_(setup), clock_(clock) {}
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear() override { co_return; }
  void cut() override {}  // between the jobs there is no railway
  [[nodiscard]] CheckLines checks() const override { return {{"railway", true, "simulated: nothing to look at"}}; }

 private:
  const SimulatedSetup& setup_;
  Clock& clock_;
};

}  // namespace lapwright
