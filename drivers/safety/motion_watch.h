// The rules about motion: what was commanded and what the gates saw, and nothing that a procedure believes.
#pragma once

#include <optional>
#include <vector>

#include "drivers/safety/stop_reason.h"
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
  TestTrack track;                ///< without gates: no rule about motion applies
};

/// Pure: time is an argument. Passages are counted where a beam becomes interrupted, and stays so for as long as beams
/// bounce; doubled, missed and ghost edges alone stop nothing.
class MotionWatch {
 public:
  explicit MotionWatch(MotionLimits limits);

  /// What goes to the station. Step 0 is a command to stand.
  void drive(Instant now, ThrottleCommand command);
  void stand(Instant now);
  /// In the order of the stamps.
  [[nodiscard]] std::optional<Stop> edge(const GateEdge& edge);
  /// To be asked often: what is due by now.
  [[nodiscard]] std::optional<Stop> look(Instant now);

  /// Fastest speed allowed, mm/s.
  [[nodiscard]] double top_mm_s() const;
  /// Longest time without a passage while a step is commanded; empty: not limited.
  [[nodiscard]] std::optional<double> longest_wait_s() const;

 private:
  struct Beam {
    bool blocked = false;
    std::optional<Instant> pending;  ///< interrupted since, not yet for long enough to be a passage
    GateEdge edge{};                 ///< that began it
    std::optional<Instant> clear_since;
    bool flickers = false;  ///< was not clear for long before it
  };
  struct Passage {
    int gate = 0;
    GateEdge edge{};
  };
  [[nodiscard]] std::optional<Stop> passage(int gate, const Beam& beam);
  [[nodiscard]] std::optional<Stop> too_fast(const Passage& latest) const;
  [[nodiscard]] const std::string& name(int gate) const;

  MotionLimits limits_;
  std::vector<Beam> beams_;
  std::optional<ThrottleCommand> running_;  ///< empty: commanded to stand
  std::optional<Instant> standing_since_;   ///< empty: nothing was commanded yet
  Instant waiting_since_{};                 ///< for a passage
  std::vector<Passage> run_;                ///< passages of the present run in one direction, the last few
};

}  // namespace lapwright
