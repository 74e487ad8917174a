// The rules about motion: what was commanded and what the gates saw, and nothing that a procedure believes.
#pragma once

#include <optional>
#include <string>

#include "drivers/safety/gate_watch.h"
#include "drivers/safety/staging_watch.h"
#include "drivers/safety/stall_watch.h"
#include "drivers/safety/stop_reason.h"
#include "drivers/safety/track_end_watch.h"
#include "drivers/safety/travel_watch.h"
#include "tuning/rig.h"
#include "tuning/test_track.h"

namespace lapwright {

/// From the configuration: limits, target sheet and track.
struct MotionLimits {
  double coast_s = 5;             ///< from the command to stand until any passage is one too many
  double overspeed_share = 1.5;   ///< of the sheet's top speed
  double fastest_mm_s = 1500;     ///< whatever the sheet says
  double patience_s = 60;         ///< without a passage, beyond `patience_share`
  double patience_share = 2.2;    ///< of the time that the sheet's slowest step takes for the longest way between gates
  double sheet_top_mm_s = 0;      ///< 0: no sheet is known, and `fastest_mm_s` alone counts
  double sheet_slowest_mm_s = 0;  ///< 0: no sheet is known, and missing passages stop nothing
  StallLimits stall;
  BrakingLimits braking;
  ShownSpeeds earlier_mm_s;  ///< of a shuttle's engine whose work was broken off: what the gates had shown
  TestTrack track;           ///< without gates: no rule about motion applies
};

/// Pure: time is an argument. Feeds every rule about motion with passages and commands; the rules stand in files of
/// their own.
class MotionWatch {
 public:
  explicit MotionWatch(MotionLimits limits);

  /// What goes to the station. Step 0 is a command to stand.
  void drive(Instant now, ThrottleCommand command);
  void stand(Instant now);
  /// Why the turnouts must not be set just now; empty: they may.
  [[nodiscard]] std::optional<std::string> refuses(Instant now, int route) const {
    return staging_.refuses(now, route);
  }
  void route(int route) { staging_.route(route); }
  /// In the order of the stamps.
  [[nodiscard]] std::optional<Stop> edge(const GateEdge& edge);
  /// Every reading of the track current.
  [[nodiscard]] std::optional<Stop> current(Instant now, double current_mA);
  /// What the sensor reads of the dead track.
  void zero_is(double current_mA) { stall_.zero_is(current_mA); }
  /// To be asked often: what is due by now.
  [[nodiscard]] std::optional<Stop> look(Instant now);

  /// Fastest speed allowed, mm/s.
  [[nodiscard]] double top_mm_s() const;
  /// Longest time without a passage while a step is commanded; empty: not limited.
  [[nodiscard]] std::optional<double> longest_wait_s() const;
  /// "step 12 forward", "to stand", for evidence.
  [[nodiscard]] std::string commanded() const;
  /// Where the engine is, by the gate that saw it last: "between gate west and gate east".
  [[nodiscard]] std::string place() const;

 private:
  [[nodiscard]] std::optional<Stop> passage(const GatePassage& passage);
  [[nodiscard]] std::optional<Stop> passage_at_rest(const GatePassage& passage) const;
  [[nodiscard]] const std::string& name(int gate) const;

  MotionLimits limits_;
  GateWatch gates_;
  TravelWatch travel_;
  TrackEndWatch ends_;
  StagingWatch staging_;
  StallWatch stall_;
  std::optional<ThrottleCommand> running_;  ///< empty: commanded to stand
  std::optional<Instant> standing_since_;   ///< empty: nothing was commanded yet
  Instant turned_at_{};                     ///< what a gate saw before belongs to the command before
  Instant waiting_since_{};                 ///< for a passage, as if it had run on end
  Duration waited_{};                       ///< for a passage, before it was stopped
  std::optional<int> last_gate_;            ///< that saw it
  bool in_a_turn_ = false;                  ///< it did so when it may not have turned round yet
};

}  // namespace lapwright
