// Moving the engine for measurements: where it is by dead reckoning, run-ups, turns, sprints, and one pass at a time.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <vector>

#include "tuning/clock.h"
#include "tuning/edge_filter.h"
#include "tuning/pass_reader.h"
#include "tuning/rig.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Expected speeds of the throttle's steps in mm/s, by direction; 0 where a step is not usable (unknown, or it stalls).
class SpeedBook {
 public:
  explicit SpeedBook(StepMode mode) : speeds_mm_s_(2 * static_cast<std::size_t>(top_step(mode) + 1), 0.0) {}
  void set(int step, Direction direction, double mm_s) { speeds_mm_s_[place(step, direction)] = mm_s; }
  [[nodiscard]] double get(int step, Direction direction) const { return speeds_mm_s_[place(step, direction)]; }
  [[nodiscard]] int top() const { return static_cast<int>(speeds_mm_s_.size() / 2) - 1; }
  /// The fastest usable step that is not faster than wished; the slowest usable one if all are; 0 if none is usable.
  [[nodiscard]] int step_near(double wish_mm_s, Direction direction) const;

 private:
  [[nodiscard]] static std::size_t place(int step, Direction direction) {
    return 2 * static_cast<std::size_t>(step) + (direction == Direction::forward ? 0 : 1);
  }
  std::vector<double> speeds_mm_s_;
};

struct PassOrder {
  int step = 0;
  Direction direction = Direction::forward;
  double expected_mm_s = 0;
  double run_up_s = 0.9;          ///< time at the step before the first gate, for the speed to settle
  double kick_mm_s = 0;           ///< overcome static friction with a moment at about this speed; 0: not needed
  double patience = 2.2;          ///< limit of each wait as a multiple of the expected time
  double reckoning_error = 0.15;  ///< share of the way since the last gate by which the engine may be elsewhere
};

enum class PassTrouble : std::uint8_t {
  none,
  no_entry,      ///< no edge at the first gate in time: stalled, slower than thought, or an edge was missed
  no_exit,       ///< seen at the first gate only
  entry_missed,  ///< seen at the second gate only
};

/// Where a search found the engine.
enum class Whereabouts : std::uint8_t {
  lost,
  before_the_gate,  ///< going on led to a gate: it had stalled, or was slower than thought
  beyond_the_gate,  ///< only going back did: it had run on, and an edge was missed
};

struct PassReading {
  PassTrouble trouble = PassTrouble::none;
  double speed_mm_s = 0;
  double timing_sd_mm_s = 0;  ///< from the stamps' uncertainty
  double doubt_mm_s = 0;      ///< the speed may be wrong by this much because an edge was doubled
  double running_s = 0;       ///< running time of the engine in the middle of the pass
};

/// Holds the engine's estimated position and gives it commands. One engine, one trap.
class Motion {
 public:
  Motion(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode);

  /// Which gates are timed. Coordinates count from the low gate in the engine's forward direction.
  void use_trap(const Trap& trap);
  [[nodiscard]] const Trap& trap() const { return trap_; }
  void set_position(double at_mm);  ///< of the engine's forward end
  /// A shuttle's clear track on both sides of the trap, measured from low and high gate; loops have no limit.
  void set_limits(double below_mm, double above_mm);

  SpeedBook& book() { return book_; }
  [[nodiscard]] double running_s() const;
  [[nodiscard]] StepMode mode() const { return mode_; }

  /// Changes step or direction without waiting.
  boost::asio::awaitable<void> command(int step, Direction direction, double expected_mm_s);
  boost::asio::awaitable<void> stand();
  /// Lets the engine go on for a while, following its edges.
  boost::asio::awaitable<void> roll(double length_s);
  /// The next passage of any engine end, empty at the deadline.
  boost::asio::awaitable<std::optional<Passage>> next_passage(Instant deadline);
  /// Brings the engine to a run-up before the trap, drives it through at the step and reads its speed.
  boost::asio::awaitable<PassReading> pass(PassOrder order);
  /// After a pass failed: moves at known steps until a gate tells where the engine is.
  boost::asio::awaitable<Whereabouts> recover(Direction direction);

 private:
  boost::asio::awaitable<void> approach(PassOrder order);
  boost::asio::awaitable<void> back_off(PassOrder order, double need_mm);
  boost::asio::awaitable<bool> sprint_to_edge(Direction direction, double reach_mm);
  boost::asio::awaitable<PassReading> time_the_trap(PassOrder order);
  boost::asio::awaitable<void> follow(PassReader& reader, Instant deadline);
  void note(const Passage& passage);
  void learn_lag(const PassOrder& order, double arrived_late_mm);
  void learn_openings(Direction direction, double seen_mm);
  [[nodiscard]] bool is_forward_end(const Passage& passage) const;
  [[nodiscard]] double since_seen_mm() const;
  [[nodiscard]] double position_mm() const;
  [[nodiscard]] double ahead_mm(Direction direction) const;  ///< to the trap's entry, negative once it is passed
  [[nodiscard]] double run_up_mm(const PassOrder& order) const;
  [[nodiscard]] double room_behind_mm(Direction direction) const;

  Rig& rig_;
  Clock& clock_;
  TestTrack track_;
  StepMode mode_;
  SpeedBook book_;
  EdgeFilter filter_;
  Trap trap_;
  double below_mm_ = 1e9;
  double above_mm_ = 1e9;

  int step_ = 0;
  Direction direction_ = Direction::forward;
  double velocity_mm_s_ = 0;  // expected, signed
  double at_mm_ = 0;          // of the forward end, at reckoned_at_
  double reckoning_error_ = 0.15;
  double since_seen_mm_ = 0;  // way since a gate saw the forward end, up to reckoned_at_
  Instant reckoned_at_{};
  Instant turned_at_{};
  double lag_s_ = 0.15;    // a change of speed takes effect as if it came this much later
  double opening_mm_ = 0;  // longest one behind the forward end; 0: a closed body as far as is known
  double last_opening_mm_ = 0;
  double running_s_ = 0;
  Instant running_since_{};
};

}  // namespace lapwright
