// The rules about the way round: how fast, which way, and whether one engine can be at both gates.
#pragma once

#include <array>
#include <deque>
#include <optional>
#include <vector>

#include "drivers/safety/gate_watch.h"
#include "drivers/safety/stop_reason.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Pure. Judges runs: passages under one direction of command. What it learns of the engine is which way it faces.
class TravelWatch {
 public:
  /// @param top_mm_s  fastest speed allowed  @param fastest_mm_s  no engine is that fast
  TravelWatch(const TestTrack& track, double top_mm_s, double fastest_mm_s);

  /// The engine was commanded anew: another direction begins another run, another step leaves its times incomparable.
  void commanded(const ThrottleCommand& command);
  void stand();
  /// A fresh passage while the engine is commanded to run.
  [[nodiscard]] std::optional<Stop> passage(const GatePassage& latest);

  /// The way it moves along the track by the gates, +1 or -1; 0: not known.
  [[nodiscard]] int way() const;
  /// The next gate that way.
  [[nodiscard]] int next_gate(int gate, int way) const;
  /// Speed over the last two gates, if it went from one to the other at one step, mm/s.
  [[nodiscard]] std::optional<double> speed_mm_s() const;
  /// The same, also where other steps were commanded on the way.
  [[nodiscard]] std::optional<double> mean_mm_s() const;

 private:
  struct Seen {
    GatePassage passage;
    bool steady = false;  ///< since the passage before it nothing else was commanded
  };
  /// Speeds from each passage of the run to the next, if the engine moves that way; empty where it can't.
  [[nodiscard]] std::vector<double> speeds(int way) const;
  [[nodiscard]] bool fits(int way) const;
  [[nodiscard]] std::optional<Stop> look_at_order();
  [[nodiscard]] std::optional<Stop> look_at_facing();
  [[nodiscard]] std::optional<Stop> look_at_speed();
  [[nodiscard]] std::optional<Stop> look_at_lap(const GatePassage& latest);
  [[nodiscard]] Stop too_fast(double speed_mm_s) const;
  [[nodiscard]] double ahead_mm(int from, int to, int way) const;  ///< below 0: not that way
  [[nodiscard]] const std::string& name(const Seen& seen) const;

  TestTrack track_;
  double top_mm_s_;
  double fastest_mm_s_;
  std::optional<ThrottleCommand> command_;
  bool steady_ = false;
  std::vector<Seen> run_;  ///< the last few
  int facing_ = 0;         ///< +1: forward leads along the track; 0: not known
  int contradicted_ = 0;   ///< the facing, by runs in a row
  int fast_runs_ = 0;      ///< in a row
  int fast_laps_ = 0;      ///< past one gate, in a row
  std::deque<Instant> impossible_;
};

}  // namespace lapwright
