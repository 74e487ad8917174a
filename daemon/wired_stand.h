// A rig on real wires as a test stand: links, station and board live as long as the service, engines come and go.
#pragma once

#include <boost/asio/io_context.hpp>
#include <exception>
#include <functional>
#include <memory>
#include <string>

#include "daemon/test_stand.h"
#include "daemon/wired_setup.h"
#include "drivers/links/link.h"
#include "drivers/wired_rig.h"

namespace lapwright {

/// Whatever moved when the service came, or when a link came back, is made dead before anything else: an engine that a
/// service which died left running, for instance.
class WiredStand final : public TestStand {
 public:
  /// Told once for each reason: "waiting for hardware: …", and "" when it is there.
  using Waiting = std::function<void(const std::string& why)>;
  /// Called when the stand can't go on: a link that another program holds.
  using Failed = std::function<void(const std::exception_ptr&)>;

  /// All outlive it. @param log  may be null
  WiredStand(const WiredSetup& setup, Clock& clock, TrafficLog* log, Waiting waiting);
  /// Starts links and drivers.
  void start(boost::asio::io_context& context, const Failed& failed);
  /// Whoever waits for hardware is let go with a RigFault.
  void stop_waiting() { stopped_ = true; }
  /// Ends links and drivers; when the shift is over.
  void stop();

  /// Waits until station and board are there, as long as it takes, then takes the engine's controls.
  boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) override;
  boost::asio::awaitable<void> clear(std::optional<StopReason> only) override;
  boost::asio::awaitable<std::string> make_dead() override;
  [[nodiscard]] CheckLines checks() const override;

 private:
  [[nodiscard]] std::string trouble() const;
  boost::asio::awaitable<void> hardware();
  boost::asio::awaitable<void> first_reading();
  boost::asio::awaitable<void> ask_gates();
  boost::asio::awaitable<void> keep_dead();
  boost::asio::awaitable<void> check_relay();

  const WiredSetup& setup_;
  Clock& clock_;
  Waiting waiting_;
  lcc::LccStation station_;
  lcc::EventGates events_;
  Link station_link_;
  std::unique_ptr<trackside::Board> board_;
  std::unique_ptr<Link> board_link_;
  std::unique_ptr<WiredRig> rig_;
  CheckLine relay_{"relay", std::nullopt, "is tried before the next engine"};
  std::string told_;
  std::string not_dead_ = "the track's power is to be switched off first";  ///< or why that failed
  int dead_since_ = 0;    ///< the opening of the station's link in which power was seen to be off
  bool in_use_ = false;   ///< an engine's guard looks after the track
  bool cut_ = false;      ///< by a person: nothing is switched on before it was cleared
  bool stopped_ = false;  ///< whoever waits is let go
  bool ended_ = false;
};

}  // namespace lapwright
