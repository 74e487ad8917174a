// What no tuner may see: the engine's true steady speed, from a warm copy of the plant without luck.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>

#include "drivers/simulated/decoder.h"
#include "drivers/simulated/engine.h"
#include "drivers/simulated/track.h"

namespace lapwright::simulated {

/// The piece of track over which speed is defined, by true positions of the engine's forward end.
struct Reference {
  double from_mm = 0;
  double to_mm = 0;  ///< larger than from_mm; on a loop a whole lap is from … from + length
};

/// Remembers what it has simulated. Everything is at the track volts of the railway, fully warm, without momentum.
class Truth {
 public:
  /// The track is copied: take the very one that the engine runs on, with its drawn gates and its unevenness.
  Truth(const EngineDescription& engine, const Track& track, double track_volts, Reference reference);
  Truth(const Truth&) = delete;
  Truth& operator=(const Truth&) = delete;

  /// Mean speed in mm/s over the reference of an engine that came to it already moving, averaged over positions of the
  /// driving wheels; 0 where friction stops it there. `direction` is the one in which the engine moves.
  [[nodiscard]] double speed_mm_s(double drive_share, Direction direction);
  /// The same for a step, with this decoder's CVs; its momentum is ignored.
  [[nodiscard]] double speed_mm_s(const Decoder& decoder, ThrottleCommand command);
  /// Time after a sudden change of drive until the speed stays within `within` (a share) of the new steady speed, in s;
  /// empty where it does not within 10 s.
  [[nodiscard]] std::optional<double> settling_s(double from_share, double to_share, Direction direction,
                                                 double within);

 private:
  [[nodiscard]] Decoder decoder_at(double drive_share, Direction direction) const;
  void set_drive(Decoder& decoder, double drive_share) const;
  [[nodiscard]] Engine warm_engine(const EngineDescription& description, double drive_share, Direction direction,
                                   std::uint64_t seed) const;
  [[nodiscard]] std::optional<double> pass_s(Engine& engine, Decoder& decoder, double wheel_turn,
                                             Direction direction) const;
  [[nodiscard]] double simulate(double drive_share, Direction direction) const;

  EngineDescription description_;
  Track track_;
  double track_volts_;
  Reference reference_;
  double finest_;  ///< number of drive levels
  std::map<std::pair<long, Direction>, double> known_;
};

}  // namespace lapwright::simulated
