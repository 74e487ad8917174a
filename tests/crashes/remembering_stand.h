// The simulated railway with engines whose decoders remember what was written to them, from one try to the next.
#pragma once

#include <functional>
#include <map>

#include "daemon/configuration.h"
#include "daemon/test_stand.h"

namespace lapwright::crashes {

/// What each decoder holds, by the address that its engine's description says; it may obey another one.
using Decoders = std::map<int, std::map<int, std::uint8_t>>;

class RememberingStand final : public TestStand {
 public:
  /// All outlive it. @param changed  after each write that a decoder has taken; may be empty
  RememberingStand(SimulatedSetup setup, Clock& clock, Decoders& decoders, std::function<void()> changed);
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear(std::optional<StopReason> /*only*/) override { co_return; }
  boost::asio::awaitable<std::string> make_dead() override { co_return ""; }
  [[nodiscard]] CheckLines checks() const override { return {}; }

 private:
  SimulatedSetup setup_;
  Clock& clock_;
  Decoders& decoders_;
  std::function<void()> changed_;
};

}  // namespace lapwright::crashes
