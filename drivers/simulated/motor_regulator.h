// Back-EMF regulation of a simulated decoder: imperfect on purpose, like the real ones.
#pragma once

namespace lapwright::simulated {

/// A sampled loop that holds the motor's back-EMF near a share of the drive level. Its integrator leaks, so a steady
/// part of a load's speed loss stays: with a motor whose open-loop speed falls by L under a load, the regulated speed
/// falls by (1 - regulation) · L. All quantities are shares of the supply voltage, in the direction of travel.
/// Stable for electro-mechanical time constants of 20 to 120 ms. The law is our own: no standard fixes one.
class MotorRegulator {
 public:
  /// Back-EMF at full drive without load: some voltage has to be left to regulate with.
  static constexpr double top_emf_share = 0.85;

  /// @param regulation  0 (none) … 1 (no droop; treated as 0.999)
  explicit MotorRegulator(double regulation);
  /// Lets `dt_s` pass and returns the share of the supply on the motor, 0 … 1.
  double advance(double dt_s, double drive_share, double back_emf_share);
  /// The motor is switched off: the loop starts afresh.
  void release();

 private:
  void sample(double drive_share, double back_emf_share);

  double proportional_;
  double integral_gain_;   // of the integrator in steady state
  double integral_share_;  // of the way to its steady state that the integrator goes in one sample
  double integral_ = 0;
  double duty_ = 0;
  double until_sample_s_ = 0;
};

}  // namespace lapwright::simulated
