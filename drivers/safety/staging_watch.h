// The rules about staging tracks: nobody runs past their turnouts, and whoever runs in stops before the buffers.
#pragma once

#include <map>
#include <optional>
#include <utility>

#include "drivers/safety/gate_watch.h"
#include "drivers/safety/stop_reason.h"
#include "drivers/safety/track_end_watch.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Pure; says nothing of tracks without staging tracks, nor while the turnouts close the loop. How far an engine came
/// into its track is reckoned by the laps that the gates have seen, never by what a procedure expects.
class StagingWatch {
 public:
  /// @param fastest_mm_s  what an engine may be going at of which no lap is known
  StagingWatch(const TestTrack& track, const BrakingLimits& limits, double fastest_mm_s)
      : track_(track), limits_(limits), fastest_mm_s_(fastest_mm_s) {}

  /// Why the turnouts must not be set now; empty: they may.
  [[nodiscard]] std::optional<std::string> refuses(Instant now, int route) const;
  void route(int route);
  void commanded(Instant now, const ThrottleCommand& command);
  void stand(Instant now);
  /// A fresh passage while it is commanded to run.
  [[nodiscard]] std::optional<Stop> passage(const GatePassage& latest);
  [[nodiscard]] std::optional<Stop> look(Instant now);

 private:
  using Notch = std::pair<int, Direction>;
  void learn(const GatePassage& latest);
  void reckon(Instant now);
  void forget_laps();
  [[nodiscard]] double speed_mm_s() const;  ///< that the engine may be going
  [[nodiscard]] bool homeward() const;

  TestTrack track_;
  BrakingLimits limits_;
  double fastest_mm_s_;
  int route_ = 0;
  std::map<Notch, double> seen_mm_s_;  ///< latest
  std::optional<ThrottleCommand> command_;
  std::optional<Instant> standing_since_;
  std::map<int, GateEdge> passed_;  ///< each gate, last, since nothing else was commanded
  std::map<int, double> lap_mm_s_;  ///< by each gate, last, since then
  std::optional<double> left_mm_;   ///< to the buffers, at `reckoned_at_`; empty: it is not on its way in
  Instant reckoned_at_{};
};

}  // namespace lapwright
