// The simulated railway behind the interface that procedures drive: one engine, one track, any clock.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <deque>
#include <optional>

#include "drivers/bell.h"
#include "drivers/simulated/railway.h"
#include "tuning/rig.h"

namespace lapwright::simulated {

/// Spawn `run()`: it puts the packets on the track and lets the engine move. The other operations need it running.
class SimulatedRig final : public Rig {
 public:
  SimulatedRig(const RailwayDescription& railway, const EngineDescription& engine, Clock& clock, std::uint64_t seed);

  /// Ends after `stop()`, within one packet.
  boost::asio::awaitable<void> run();
  /// Everybody who waits, and everybody who comes later, gets a RigFault.
  void stop();
  /// Track power. Without it the motor is open, the decoder forgets what is volatile and CV accesses stay silent.
  void set_power(bool on);
  void send_halt() { railway_.station().halt(); }  ///< as `halt`, also when it is too late

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  /// Of the last packet's time, with the sensor's noise.
  [[nodiscard]] std::optional<double> track_current_mA() const override { return current_mA_; }
  boost::asio::awaitable<void> set_route(int route) override;
  /// The same without waiting until they lie; on a dead track they don't move.
  void throw_turnouts(int route) {
    if (railway_.power()) railway_.set_route(route);
  }

  /// How long ago, in track time, the beam changed: for boards that stamp anew.
  [[nodiscard]] Duration age(const GateEdge& edge) const {
    return std::chrono::microseconds(railway_.board().counter_us(railway_.now_s()) - edge.counter_us);
  }

  // Faults: see Railway.
  void hold_engine(bool fast) { railway_.hold_engine(fast); }
  void lift_engine(bool off_the_rails) { railway_.lift(off_the_rails); }
  void jam_turnouts(bool jammed) { railway_.jam_turnouts(jammed); }

  // For tests, benches and reports; procedures don't see these.
  [[nodiscard]] const Railway& railway() const { return railway_; }
  [[nodiscard]] const Engine& engine() const { return railway_.engine(); }
  [[nodiscard]] Decoder& decoder() { return railway_.decoder(); }
  [[nodiscard]] double distance_mm() const { return railway_.engine().distance_mm(); }
  [[nodiscard]] std::uint64_t buffer_hits() const { return railway_.engine().buffer_hits(); }
  [[nodiscard]] std::uint64_t packets() const { return railway_.station().packets(); }
  [[nodiscard]] std::uint64_t cv_writes() const { return railway_.station().writes(); }

 private:
  void check_alive() const;
  boost::asio::awaitable<void> station_free();
  boost::asio::awaitable<CvAnswer> answer();
  /// Current and gate edges of the last packet. @return whether there were edges
  bool collect(Instant heard);

  Railway railway_;
  Clock& clock_;
  Bell bell_;  ///< rung for edges, a station that became free, and the end
  std::deque<GateEdge> edges_;
  std::optional<double> current_mA_;
  bool access_taken_ = false;
  bool stopped_ = false;
};

}  // namespace lapwright::simulated
