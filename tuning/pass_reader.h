// One pass out of passages: the same engine end at two places, the time between, and how far the stamps can be trusted.
#pragma once

#include <optional>

#include "tuning/edge_filter.h"
#include "tuning/throttle.h"

namespace lapwright {

/// Two gates with a known base between, or one gate with a whole lap between two visits. "Low" is the gate that the
/// engine's forward end reaches first when running forward.
struct Trap {
  int low_gate = 0;
  int high_gate = 0;  ///< the same as low_gate when a lap is timed
  double base_mm = 0;
  double base_error_mm = 0;  ///< standard uncertainty, from the gates' positions; no averaging removes it
  [[nodiscard]] bool times_laps() const { return low_gate == high_gate; }
  [[nodiscard]] int entry(Direction direction) const { return direction == Direction::forward ? low_gate : high_gate; }
  [[nodiscard]] int exit(Direction direction) const { return direction == Direction::forward ? high_gate : low_gate; }
};

/// Follows the engine's forward end: running forward it comes into each beam, in reverse it leaves it, so the engine's
/// length cancels and the engine need not clear the trap between passes.
class PassReader {
 public:
  /// @param expected_mm_s  decides which edges are too early to be true
  /// @param gap_mm  depth of the openings behind the forward end (couplers, trucks); 0: a closed body
  PassReader(const Trap& trap, Direction direction, double expected_mm_s, double gap_mm);

  void feed(const Passage& passage);

  [[nodiscard]] bool entered() const { return entry_s_.has_value(); }
  [[nodiscard]] bool complete() const { return exit_s_.has_value(); }
  /// The exit gate saw the engine but the entry gate had not: an edge is missing.
  [[nodiscard]] bool entry_missed() const { return entry_missed_; }
  /// Time between the gates in seconds; empty until complete.
  [[nodiscard]] std::optional<double> elapsed_s() const;
  /// Doubled edges leave open which one was the engine: the elapsed time may be wrong by this much; usually 0.
  [[nodiscard]] double doubt_s() const { return doubt_s_; }
  /// Deepest opening behind the forward end that this pass has shown, in mm; 0 when none.
  [[nodiscard]] double gap_seen_mm() const { return gap_seen_mm_; }

 private:
  void feed_entry(double at_s);
  void feed_exit(double at_s);
  /// True when the later edge is the better stamp of the same end: a last opening leaves the beam in reverse.
  [[nodiscard]] bool later_counts(double earlier_s, double later_s) const;

  Trap trap_;
  Direction direction_;
  double expected_mm_s_;
  double gap_mm_;
  std::optional<double> entry_s_;
  std::optional<double> exit_s_;
  std::optional<std::uint32_t> epoch_;
  bool entry_missed_ = false;
  double doubt_s_ = 0;
  double gap_seen_mm_ = 0;
};

}  // namespace lapwright
