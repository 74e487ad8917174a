// The rule about the ends of a shuttle: an engine on its way out has to turn round while it still can.
#pragma once

#include <map>
#include <optional>

#include "drivers/safety/gate_watch.h"
#include "drivers/safety/stop_reason.h"
#include "tuning/test_track.h"

namespace lapwright {

struct BrakingLimits {
  double reaction_s = 0.25;      ///< from the command to the engine
  double braking_mm_s2 = 1500;   ///< momentum is off while it is tuned
  double buffer_margin_mm = 20;  ///< that it has to keep
};

/// Pure; loops have no ends. How far an engine came beyond the outermost gate is reckoned by the speeds that the gates
/// have shown, never by what a procedure expects.
class TrackEndWatch {
 public:
  TrackEndWatch(const TestTrack& track, const BrakingLimits& limits) : track_(track), limits_(limits) {}

  void commanded(Instant now, const ThrottleCommand& command);
  void stand(Instant now);
  /// While it is commanded to run. @param way  along the track, +1 or -1; 0: not known  @param speed_mm_s  over the
  /// last two gates, if it went at one step  @param mean_mm_s  over them, whatever was commanded on the way
  [[nodiscard]] std::optional<Stop> passage(const GatePassage& latest, int way, std::optional<double> speed_mm_s,
                                            std::optional<double> mean_mm_s);
  [[nodiscard]] std::optional<Stop> look(Instant now);

 private:
  using Notch = std::pair<int, Direction>;
  void reckon(Instant now);
  [[nodiscard]] double fastest_mm_s() const;  ///< that the engine may be going; 0: nothing is known
  [[nodiscard]] double room_mm(int gate, int way) const;
  [[nodiscard]] bool outermost(int gate, int way) const;

  TestTrack track_;
  BrakingLimits limits_;
  std::map<Notch, double> seen_mm_s_;  ///< latest by step and direction
  double rough_mm_s_ = 0;              ///< what it may be going at while no step's speed is known; 0: nothing is
  std::optional<ThrottleCommand> command_;
  bool outward_ = false;  ///< beyond the outermost gate
  Direction out_direction_ = Direction::forward;
  double left_mm_ = 0;  ///< to the buffers, at `reckoned_at_`
  Instant reckoned_at_{};
};

}  // namespace lapwright
