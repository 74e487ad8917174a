// The vehicle on the rails: motor, inertia, friction and warming, stepped in about milliseconds.
#pragma once

#include <cstdint>

#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/friction_wander.h"
#include "drivers/simulated/track.h"
#include "drivers/simulated/warmth.h"

namespace lapwright::simulated {

/// One engine; positions in mm along the track, counted on over laps. Forces count as the share of full drive that
/// they take away, so a stalled motor at full drive pulls with 1.
class Engine {
 public:
  /// Stands cold at `at_mm` (its forward end). The track must outlive it.
  Engine(const EngineDescription& description, const Track& track, double track_volts, std::uint64_t seed,
         double at_mm);

  /// One step of at most about 2 ms with the motor fed or, when not `powered`, open.
  /// @param drive  share of the supply voltage on the motor, -1 … 1, positive forward
  void advance(double dt_s, double drive, bool powered);

  [[nodiscard]] double position_mm() const { return position_mm_; }  ///< of the forward end
  [[nodiscard]] double speed_mm_s() const { return speed_mm_s_; }    ///< signed, on the rails
  /// Back-EMF as a share of the supply voltage, signed, with the noise of the commutator.
  [[nodiscard]] double back_emf_share() const { return back_emf_; }
  [[nodiscard]] double motor_current_mA() const { return current_mA_; }  ///< signed
  [[nodiscard]] double distance_mm() const { return distance_mm_; }      ///< run in both directions
  [[nodiscard]] std::uint64_t buffer_hits() const { return buffer_hits_; }
  [[nodiscard]] const Warmth& warmth() const { return warmth_; }
  [[nodiscard]] double length_mm() const { return description_.length_mm; }

  /// For truth: fully warm for ever, without drifts and luck. The commutator's noise stays: regulators need its dither.
  void make_steady();
  /// For truth: goes on from `at_mm` at the same speed, the driving wheels turned by a share of one turn.
  void move_to(double at_mm, double wheel_turn);
  void hold(bool fast) { held_ = fast; }  ///< something holds it: it can't move, whatever the motor does
  void push(double speed_mm_s);           ///< for truth and tests: goes on at this speed, signed
  /// Where its forward end can't go beyond, for there are buffers.
  void set_bounds(double lowest_mm, double highest_mm);

 private:
  struct Side {
    double running = 0;  ///< friction force at speed
    double emf = 0;      ///< back-EMF per mm/s
  };
  void slow_changes(double dt_s, double load);
  [[nodiscard]] double friction_here(double running) const;
  void move(double dt_s);
  void stand(double drive, bool powered);
  [[nodiscard]] const Side& side(bool forward) const { return forward ? forward_ : reverse_; }

  EngineDescription description_;
  const Track* track_;
  Warmth warmth_;
  FrictionWander wander_;
  Random luck_;
  bool steady_ = false;
  bool held_ = false;

  double supply_ = 1;           ///< track volts over the volts of the description
  double free_speed_mm_s_ = 0;  ///< at full drive without any friction
  double gain_mm_s2_ = 0;       ///< acceleration by a force of 1
  double gear_turns_per_mm_ = 0;
  double wheel_turns_per_mm_ = 0;
  Side forward_;
  Side reverse_;
  double torque_ = 1;   ///< force for one share of drive, by magnets and windings
  double viscous_ = 0;  ///< force per mm/s
  double slow_s_ = 0;

  double lowest_mm_;
  double highest_mm_;
  double position_mm_ = 0;
  double speed_mm_s_ = 0;
  double wheels_mm_s_ = 0;  ///< speed of the motor, reckoned at the wheels' mean size
  double wheel_turn_ = 0;
  double gear_turn_ = 0;
  double slip_in_mm_ = 0;
  double sticking_ = 1;  ///< this standstill's luck with breaking away
  double back_emf_ = 0;
  double current_mA_ = 0;
  double distance_mm_ = 0;
  std::uint64_t buffer_hits_ = 0;
  bool at_buffer_ = false;
};

}  // namespace lapwright::simulated
