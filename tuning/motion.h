// Moving the engine for measurements: where it is by dead reckoning, run-ups, turns, sprints, and one pass at a time.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>

#include "tuning/clock.h"
#include "tuning/edge_filter.h"
#include "tuning/pass_order.h"
#include "tuning/pass_reader.h"
#include "tuning/reckoning.h"
#include "tuning/rig.h"
#include "tuning/speed_book.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Holds the engine's estimated position and gives it commands. One engine, one trap.
class Motion {
 public:
  Motion(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode);

  /// Which gates are timed. Coordinates count from the low gate in the engine's forward direction.
  void use_trap(const Trap& trap);
  [[nodiscard]] const Trap& trap() const { return trap_; }
  void set_position(double at_mm);  ///< of the engine's forward end
  [[nodiscard]] double position_mm() const { return reckoning_.position_mm(clock_.now()); }
  /// A shuttle's clear track on both sides of the trap, measured from low and high gate; loops have no limit.
  void set_limits(double below_mm, double above_mm);

  SpeedBook& book() { return book_; }
  [[nodiscard]] double running_s() const;
  [[nodiscard]] double usual_mA() const { return usual_mA_; }  ///< most at the end of a pass; 0: not known
  [[nodiscard]] std::optional<double> current_mA() const;      ///< of the engine alone
  void set_running_s(double running_s) { running_s_ = running_s; }
  void cool(double standing_s);  ///< it stood for so long
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
  boost::asio::awaitable<void> rest_if_due();                   ///< as long as the rig asks for; the engine cools
  boost::asio::awaitable<void> push_free(Direction direction);  ///< to and fro: a dead spot, a rod that binds
  boost::asio::awaitable<Whereabouts> search(Direction direction);
  [[nodiscard]] bool draws_too_much() const;  ///< far more than it ever did at the end of a pass
  boost::asio::awaitable<void> approach(PassOrder order);
  boost::asio::awaitable<void> back_off(PassOrder order, double need_mm);
  [[nodiscard]] bool goes_round(const PassOrder& order, double need_mm) const;
  boost::asio::awaitable<void> go_round(PassOrder order, double need_mm);
  boost::asio::awaitable<bool> sprint_to_edge(Direction direction, double reach_mm);
  boost::asio::awaitable<PassReading> time_the_trap(PassOrder order);
  boost::asio::awaitable<PassTrouble> await_entry(PassReader& reader, PassOrder order, Instant deadline);
  boost::asio::awaitable<PassTrouble> await_exit(PassReader& reader, PassOrder order, Instant deadline);
  boost::asio::awaitable<bool> follow_on(PassReader& reader, Instant deadline);             ///< false: it is blocked
  boost::asio::awaitable<bool> entry_was_missed(PassReader& reader, double expected_mm_s);  ///< false: an opening
  boost::asio::awaitable<void> follow(PassReader& reader, Instant deadline);
  void take_back_flashes(PassReader& reader) const;
  void note(const Passage& passage);
  void learn_openings(Direction direction, double seen_mm);
  [[nodiscard]] bool is_forward_end(const Passage& passage) const;
  [[nodiscard]] double ahead_mm(Direction direction) const;      ///< to the trap's entry, negative once it is passed
  [[nodiscard]] double lap_ahead_mm(Direction direction) const;  ///< on a loop, onwards round it
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
  Reckoning reckoning_;
  double reckoning_error_ = 0.15;
  std::optional<int> backed_out_of_;  ///< the gate that last saw the forward end leave it in reverse
  Instant turned_at_{};
  int blocked_s_ = 0;                            ///< seconds on end of too much current, in this pass
  Instant seen_out_{};                           ///< when the latest pass seemed complete
  double opening_mm_ = 0, last_opening_mm_ = 0;  // longest behind the forward end; 0: a closed body as far as known
  double usual_mA_ = 0, others_mA_;  ///< most at the end of a pass, 0: not known; drawn by others on this feed
  double running_s_ = 0;
  Instant running_since_{};
};

}  // namespace lapwright
