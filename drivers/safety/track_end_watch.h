// The rule about the ends of a shuttle: an engine on its way out has to turn round while it still can.
#pragma once

#include <map>
#include <optional>
#include <utility>

#include "drivers/safety/gate_watch.h"
#include "drivers/safety/stop_reason.h"
#include "tuning/test_track.h"

namespace lapwright {

struct BrakingLimits {
  double reaction_s = 0.25;      ///< from the command to the engine
  double braking_mm_s2 = 1500;   ///< momentum is off while it is tuned
  double buffer_margin_mm = 20;  ///< that it has to keep
};

/// Speed by step and direction, mm/s.
using ShownSpeeds = std::map<std::pair<int, Direction>, double>;

/// Over the last two gates.
struct LegSpeeds {
  std::optional<double> steady_mm_s;  ///< if it went at one step
  std::optional<double> mean_mm_s;    ///< whatever was commanded on the way
  bool from_a_turn = false;           ///< the first of them may have seen it before it turned round
};

/// Pure; loops have no ends. How far an engine came beyond the outermost gate is reckoned by the speeds that the gates
/// have shown, never by what a procedure expects.
class TrackEndWatch {
 public:
  /// @param earlier  what the gates have shown of this engine when it was at work here before
  TrackEndWatch(const TestTrack& track, const BrakingLimits& limits, ShownSpeeds earlier)
      : track_(track), limits_(limits), earlier_mm_s_(std::move(earlier)) {}

  void commanded(Instant now, const ThrottleCommand& command);
  void stand(Instant now);
  /// While it is commanded to run. @param way  along the track, +1 or -1; 0: not known
  [[nodiscard]] std::optional<Stop> passage(const GatePassage& latest, int way, const LegSpeeds& leg);
  [[nodiscard]] std::optional<Stop> look(Instant now);

 private:
  void reckon(Instant now);
  void learn(const LegSpeeds& leg);
  [[nodiscard]] double fastest_mm_s(Instant now) const;  ///< that the engine may be going; 0: nothing is known
  [[nodiscard]] double room_mm(int gate, int way) const;
  [[nodiscard]] bool outermost(int gate, int way) const;

  TestTrack track_;
  BrakingLimits limits_;
  ShownSpeeds earlier_mm_s_;
  ShownSpeeds seen_mm_s_;     ///< the latest
  ShownSpeeds doubted_mm_s_;  ///< so unlike the one before that an edge may have been missed
  double rough_mm_s_ = 0;     ///< what it may be going at while no step's speed is known; 0: nothing is
  std::optional<ThrottleCommand> command_;
  bool outward_ = false;  ///< beyond the outermost gate
  Direction out_direction_ = Direction::forward;
  double left_mm_ = 0;  ///< to the buffers, at `reckoned_at_`
  Instant reckoned_at_{}, outward_since_{};
};

}  // namespace lapwright
