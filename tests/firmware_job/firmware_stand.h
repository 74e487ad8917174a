// The simulated railway before the real firmware: its beams and its current are the chip's pins, the chip's relay feeds
// its track. The command station is the simulated one.
#pragma once

#include <boost/asio/io_context.hpp>
#include <filesystem>
#include <thread>

#include "drivers/real_clock.h"
#include "drivers/simulated/served/lcc_end.h"
#include "drivers/simulated/served/served_wire.h"
#include "tests/service/process.h"

namespace lapwright {

/// Runs in a thread of its own until it is destroyed.
class FirmwareStand {
 public:
  /// @param log  file for what avr_board writes
  FirmwareStand(const simulated::RailwayDescription& railway, const simulated::EngineDescription& engine,
                std::uint64_t seed, const std::filesystem::path& log);
  ~FirmwareStand();
  FirmwareStand(const FirmwareStand&) = delete;
  FirmwareStand& operator=(const FirmwareStand&) = delete;
  [[nodiscard]] std::uint16_t station_port() const { return port_; }
  [[nodiscard]] const std::string& board_device() const { return device_; }
  /// The chip's relay, as last told. From any thread.
  [[nodiscard]] bool relay_closed() const;

 private:
  boost::asio::awaitable<void> pins();
  boost::asio::awaitable<void> beams();
  void switch_track();

  Process board_;
  std::string device_;
  RealClock clock_;
  boost::asio::io_context context_{1};
  simulated::SimulatedRig rig_;
  simulated::ServedWire wire_;
  simulated::LccEnd station_;
  std::uint16_t port_ = 0;
  bool stopped_ = false;
  std::thread thread_;
};

}  // namespace lapwright
