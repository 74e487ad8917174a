// One pass out of passages: the same engine end at two places, the time between, and how far the stamps can be trusted.
#pragma once

#include <optional>
#include <vector>

#include "tuning/edge_filter.h"
#include "tuning/throttle.h"

namespace lapwright {

/// Longer light between two blockings is the end of an engine, not an opening behind its coupler.
inline constexpr double longest_opening_mm = 60;

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
/// length cancels and the engine need not clear the trap between passes. Engines have openings behind their ends
/// (couplers, trucks): forward, the first time the beam is blocked counts; in reverse, the last time it becomes clear.
class PassReader {
 public:
  /// @param expected_mm_s  decides which edges are too early to be true
  /// @param has_openings  the engine is known to have them; otherwise a second edge so soon is a doubled one
  PassReader(const Trap& trap, Direction direction, double expected_mm_s, bool has_openings);

  /// @param of_the_end  it may be the engine's forward end, as far as is known of where that is
  void feed(const Passage& passage, bool of_the_end = true);
  /// That passage was none, but a flash.
  void take_back(const Passage& passage);

  [[nodiscard]] bool entered() const { return entry_.at_s.has_value(); }
  /// May become false again in reverse: what seemed the engine's end was an opening.
  [[nodiscard]] bool complete() const { return entered() && exit_.at_s.has_value(); }
  /// The exit gate saw the engine but the entry gate had not: an edge is missing. May become false again in reverse:
  /// what the exit gate saw was an opening.
  [[nodiscard]] bool entry_missed() const { return missed_at_s_.has_value(); }
  /// Time between the gates in seconds; empty until complete.
  [[nodiscard]] std::optional<double> elapsed_s() const;
  /// Doubled edges leave open which one was the engine: the elapsed time may be wrong by this much; usually 0.
  [[nodiscard]] double doubt_s() const { return entry_.doubt_s + exit_.doubt_s; }
  /// A gate changed more often than the parts of any engine make it.
  [[nodiscard]] bool restless() const;
  /// The gates saw the same around both stamps. An engine brings its parts to either; a gate that chatters, a hand and
  /// other light do not. @param within_s  to which two changes count as the same
  [[nodiscard]] bool seen_alike(double within_s) const;
  /// Longest opening behind the forward end that this pass has shown, in mm; 0 when none.
  [[nodiscard]] double opening_seen_mm() const { return opening_seen_mm_; }

 private:
  struct End {  // of the engine, at one gate
    std::optional<double> at_s;
    std::optional<double> dismissed_s;  // reverse: a clear beam that was blocked again
    double doubt_s = 0;
  };
  struct Fed {
    Passage passage;
    bool counts = false;  // else it was a flash, or far from where the end has to be
  };
  void judge(const Passage& passage);
  [[nodiscard]] bool flickers(int gate, double at_s) const;
  struct Comparison {
    double within_s;
    double before_s;
  };
  /// Each change at the gate around that moment has its counterpart at the other gate around the other moment.
  [[nodiscard]] bool repeated(int gate, double at_s, int other_gate, double other_s, const Comparison& with) const;
  void come_in(End& end, double at_s) const;
  void go_out(End& end, double at_s) const;
  void blocked_again(End& end) const;
  void feed_gate(End& end, const Passage& passage);
  [[nodiscard]] bool too_early(double at_s) const;
  void watch_openings(const Passage& passage);

  Trap trap_;
  Direction direction_;
  double expected_mm_s_;
  bool has_openings_;
  End entry_;
  End exit_;
  std::optional<std::uint32_t> epoch_;
  std::optional<double> opened_s_;
  std::optional<double> missed_at_s_;
  double opening_seen_mm_ = 0;
  std::vector<Fed> fed_;
};

}  // namespace lapwright
