// The simulated railway as a test stand: a fresh railway for each engine. Decoders remember from one work to the next.
#pragma once

#include <map>

#include "daemon/configuration.h"
#include "daemon/test_stand.h"

namespace lapwright {

class SimulatedStand final : public TestStand {
 public:
  /// Both outlive the stand.
  SimulatedStand(const SimulatedSetup& setup, Clock& clock) : setup_(setup), clock_(clock) {}
  /// The engine of that name or, where none is called so, of that address; it hears what its decoder was left at.
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear(std::optional<StopReason> /*only*/) override { co_return; }
  boost::asio::awaitable<std::string> make_dead() override { co_return ""; }  // between the jobs there is no railway
  [[nodiscard]] CheckLines checks() const override { return {{"railway", true, "simulated: nothing to look at"}}; }

 private:
  const SimulatedSetup& setup_;
  Clock& clock_;
  /// Where an engine that has a place in the yard stands now.
  void set_down(const simulated::EngineDescription& engine, simulated::RailwayDescription& railway);

  std::map<int, double> on_the_loop_;                    ///< in mm, by the same; all others stand in their places
  std::map<int, std::map<int, std::uint8_t>> decoders_;  ///< what each holds, by the address of its description
};

}  // namespace lapwright
