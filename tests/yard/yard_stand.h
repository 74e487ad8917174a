// The simulated loop with its yard: engines stay where they were left, and the truth of each run is looked at.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/test_stand.h"
#include "drivers/simulated/simulated_rig.h"

namespace lapwright::yard {

/// How an engine was left after the track had lived under one guard.
struct Left {
  std::string engine;
  bool home = false;
  bool derailed = false;
  std::uint64_t buffer_hits = 0;
  double to_buffers_mm = 0;  ///< if it is home
  double on_the_loop_mm = 0;
  double lasted_s = 0;
};

class YardStand final : public TestStand {
 public:
  YardStand(SimulatedSetup setup, Clock& clock) : setup_(std::move(setup)), clock_(clock) {}
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear(std::optional<StopReason> /*only*/) override { co_return; }
  boost::asio::awaitable<std::string> make_dead() override { co_return ""; }
  [[nodiscard]] CheckLines checks() const override { return {}; }
  /// A person puts it into its place.
  void put_away(const std::string& engine) { on_the_loop_.erase(engine); }
  [[nodiscard]] const std::map<std::string, double>& on_the_loop() const { return on_the_loop_; }
  void note(const Left& left);

  /// Called every 100 ms of a run: what goes wrong on the railway.
  std::function<void(const std::string& engine, simulated::SimulatedRig& rig, double since_s)> misfortune;
  std::map<std::string, std::map<int, std::uint8_t>> decoders;
  std::vector<Left> runs;
  int route = 0;       ///< that the turnouts lie for, from one run to the next
  int collisions = 0;  ///< an engine was called while another one stood on the loop

 private:
  SimulatedSetup setup_;
  Clock& clock_;
  std::map<std::string, double> on_the_loop_;  ///< place by name
};

}  // namespace lapwright::yard
