// The simulated railway as one plant: track, engine with its decoder, trackside board and command station in step.
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/simulated/decoder.h"
#include "drivers/simulated/engine.h"
#include "drivers/simulated/gate_board.h"
#include "drivers/simulated/station.h"
#include "drivers/simulated/track.h"
#include "drivers/simulated/yard.h"

namespace lapwright::simulated {

/// Time here is track time in seconds since the railway was switched on. No clock, no waiting: the rig steps it.
class Railway {
 public:
  /// One engine, cold, standing somewhere on the track. Throws std::invalid_argument when it is longer than the track.
  Railway(const RailwayDescription& railway, const EngineDescription& engine, std::uint64_t seed);
  Railway(const Railway&) = delete;
  Railway& operator=(const Railway&) = delete;

  /// Takes the next packet from the station and returns how long it is on the track, in s.
  double begin_packet();
  /// Lets that time pass, then gives the packet to the decoder.
  void end_packet();
  [[nodiscard]] double now_s() const { return now_s_; }

  void set_power(bool on);
  [[nodiscard]] bool power() const { return power_; }
  /// The engine's wheels touch no rail: its decoder is dead and its motor open, whatever the track's power.
  void lift(bool off_the_rails);
  /// Route 0 is the loop, route k leads to the k-th staging track of the yard, if there is one.
  void set_route(int route);
  void jam_turnouts(bool jammed);
  void hold_engine(bool fast) { engine_.hold(fast); }
  /// With the sensor's noise.
  [[nodiscard]] double track_current_mA();

  [[nodiscard]] const Track& track() const { return track_; }
  [[nodiscard]] double track_volts() const { return track_volts_; }
  [[nodiscard]] const Engine& engine() const { return engine_; }
  [[nodiscard]] const std::optional<Yard>& yard() const { return yard_; }
  [[nodiscard]] Decoder& decoder() { return decoder_; }
  [[nodiscard]] const Decoder& decoder() const { return decoder_; }
  [[nodiscard]] Station& station() { return station_; }
  [[nodiscard]] const Station& station() const { return station_; }
  [[nodiscard]] GateBoard& board() { return board_; }
  [[nodiscard]] const GateBoard& board() const { return board_; }

 private:
  [[nodiscard]] double first_place(const RailwayDescription& railway, const EngineDescription& engine,
                                   std::uint64_t seed);
  [[nodiscard]] bool fed() const { return power_ && !lifted_; }
  void run_for(double length_s);
  void watch_wheels(double from_mm);

  Track track_;
  std::optional<Yard> yard_;
  double track_volts_;
  Engine engine_;
  Decoder decoder_;
  Station station_;
  GateBoard board_;
  Random sensor_luck_;
  dcc::Packet packet_;
  double packet_s_ = 0;
  double now_s_ = 0;
  double current_mA_ = 0;  ///< drawn from the rails, averaged over the last packet
  double others_mA_ = 0;   ///< of it, by engines that stand in staging tracks
  bool power_ = true;
  bool lifted_ = false;
};

}  // namespace lapwright::simulated
