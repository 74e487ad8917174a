#include "drivers/simulated/motor_regulator.h"

#include <algorithm>
#include <cmath>

namespace lapwright::simulated {
namespace {

constexpr double sample_s = 0.01;         // back-EMF can be seen in short gaps of the PWM only
constexpr double emf_resolution = 2048;   // converter counts for the supply voltage
constexpr double integral_per_s = 10.0;   // settles in about half a second
constexpr double top_proportional = 1.0;  // more would ring with a motor of 20 ms

}  // namespace

MotorRegulator::MotorRegulator(double regulation) {
  const double kept = std::clamp(regulation, 0.0, 0.999);
  const double steady_gain = kept / (1.0 - kept);  // a loop of gain K leaves 1/(1+K) of a disturbance
  proportional_ = std::min(top_proportional, steady_gain / 2);
  integral_gain_ = steady_gain - proportional_;
  integral_share_ = integral_gain_ > 0 ? 1.0 - std::exp(-sample_s * integral_per_s / integral_gain_) : 0.0;
}

double MotorRegulator::advance(double dt_s, double drive_share, double back_emf_share) {
  until_sample_s_ -= dt_s;
  while (until_sample_s_ <= 0) {  // several samples when the caller's step is a long one
    sample(drive_share, back_emf_share);
    until_sample_s_ += sample_s;
  }
  return duty_;
}

void MotorRegulator::release() {
  integral_ = 0;
  duty_ = 0;
  until_sample_s_ = 0;
}

void MotorRegulator::sample(double drive_share, double back_emf_share) {
  const double target = drive_share * top_emf_share;
  const double seen = std::floor(back_emf_share * emf_resolution + 0.5) / emf_resolution;
  const double error = target - seen;
  const double wanted = target + proportional_ * error + integral_;
  duty_ = std::clamp(wanted, 0.0, 1.0);
  // At a limit the integrator only moves back from it, or it would overshoot afterwards.
  const double next = integral_ + integral_share_ * (integral_gain_ * error - integral_);
  if (wanted == duty_ || (wanted > 1.0) == (next < integral_)) integral_ = next;
}

}  // namespace lapwright::simulated
