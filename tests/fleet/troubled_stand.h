// The simulated railway with a fleet whose decoders remember from one night to the next, and whose engines bring their
// troubles along.
#pragma once

#include <map>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/test_stand.h"
#include "drivers/simulated/truth.h"
#include "tests/fleet/roster.h"

namespace lapwright::fleet {

/// True warm speed in mm/s at a step of 28, as the decoder was left.
using TrueSpeeds = std::map<std::pair<int, Direction>, double>;

class TroubledStand final : public TestStand {
 public:
  TroubledStand(SimulatedSetup setup, Clock& clock, std::vector<Member> members);
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear(std::optional<StopReason> /*only*/) override {
    ++cleared;
    co_return;
  }
  boost::asio::awaitable<std::string> make_dead() override { co_return ""; }
  [[nodiscard]] CheckLines checks() const override { return {}; }

  /// What each decoder holds, by road number.
  std::map<std::string, std::map<int, std::uint8_t>> decoders;
  /// Looked at when an engine leaves the track, by road number.
  std::map<std::string, TrueSpeeds> truth;
  bool in_trouble = false;  ///< troubles begin
  int cleared = 0;

 private:
  SimulatedSetup setup_;
  Clock& clock_;
  std::vector<Member> members_;
};

}  // namespace lapwright::fleet
