#include "drivers/simulated/engine.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

namespace lapwright::simulated {

namespace {

constexpr double slow_step_s = 0.05;   // warmth and wandering friction change slowly
constexpr double slip_every_mm = 400;  // wheels slip a little at curves and joints: their phase wanders
constexpr double slip_mm = 3;
constexpr double emf_noise = 0.0006;  // half-width, as a share of the supply
constexpr double buffer_play_mm = 1;
constexpr double breakaway_luck = 0.12;
constexpr double no_buffer_mm = std::numeric_limits<double>::infinity();

/// sin(2π turns) by table: it is asked for several times a step and unevenness needs no better.
double wave(double turns) {
  static const std::array<double, 257> table = [] {
    std::array<double, 257> values{};
    for (std::size_t i = 0; i < values.size(); ++i) {
      values[i] = std::sin(2 * std::numbers::pi * static_cast<double>(i) / 256);
    }
    return values;
  }();
  const double place = turns * 256;
  const auto below = static_cast<std::size_t>(place);
  const double share = place - static_cast<double>(below);
  return table[below] + share * (table[below + 1] - table[below]);
}

/// Keeps a turn in [0, 1); steps are far shorter than a turn.
void turn_on(double& turn, double by) {
  turn += by;
  if (turn >= 1) turn -= 1;
  if (turn < 0) turn += 1;
  if (turn >= 1 || turn < 0) turn = 0;
}

}  // namespace

Engine::Engine(const EngineDescription& description, const Track& track, double track_volts, std::uint64_t seed,
               double at_mm)
    : description_(description),
      track_(&track),
      warmth_(description.thermal),
      wander_(description.friction, seed ^ 0x77616e646572ULL),
      luck_(seed ^ 0x656e67696e65ULL),
      supply_(track_volts / description.motor.volts),
      lowest_mm_(track.is_loop() ? -no_buffer_mm : description.length_mm),
      highest_mm_(track.is_loop() ? no_buffer_mm : track.length_mm()),
      position_mm_(at_mm) {
  const MotorDescription& motor = description_.motor;
  const FrictionDescription& friction = description_.friction;
  // At top speed the motor's force 1 - v/v0 equals running plus viscous friction.
  free_speed_mm_s_ = motor.top_speed_mm_s / (1 - friction.running - friction.viscous);
  gain_mm_s2_ = free_speed_mm_s_ / (motor.time_constant_s * (1 + motor.flywheel));
  gear_turns_per_mm_ = 1 / description_.ripple.gear_mm;
  wheel_turns_per_mm_ = 1 / description_.ripple.wheel_mm;
  wheel_turn_ = luck_.uniform();
  gear_turn_ = luck_.uniform();
  slip_in_mm_ = slip_every_mm * luck_.exponential();
  sticking_ = 1 + breakaway_luck * luck_.uniform(-1, 1);
  slow_changes(0, 0);
}

void Engine::make_steady() {
  steady_ = true;
  sticking_ = 1;
  warmth_.set_warm();
  wander_.make_still();
  slow_changes(0, 0);
}

void Engine::move_to(double at_mm, double wheel_turn) {
  position_mm_ = at_mm;
  wheel_turn_ = wheel_turn;
}

void Engine::set_bounds(double lowest_mm, double highest_mm) {
  lowest_mm_ = lowest_mm;
  highest_mm_ = highest_mm;
}

void Engine::push(double speed_mm_s) {
  wheels_mm_s_ = speed_mm_s_ = speed_mm_s;
  back_emf_ = side(speed_mm_s > 0).emf * speed_mm_s / supply_;
}

void Engine::slow_changes(double dt_s, double load) {
  const bool running = wheels_mm_s_ != 0;
  if (!steady_) {
    warmth_.advance(dt_s, running, load);
    if (running) wander_.advance(dt_s);
  }
  const FrictionDescription& friction = description_.friction;
  const double emf = warmth_.magnet() / free_speed_mm_s_;
  const double running_force = friction.running * warmth_.friction() * (1 + wander_.share());
  torque_ = warmth_.magnet() / warmth_.resistance();
  viscous_ = friction.viscous * warmth_.friction() / description_.motor.top_speed_mm_s;
  forward_ = Side{running_force, emf};
  reverse_ = Side{running_force * (1 + friction.reverse_extra), emf * (1 + description_.motor.reverse_emf)};
}

double Engine::friction_here(double running) const {
  const double middle_mm = position_mm_ - 0.5 * description_.length_mm;
  return running * (track_->drag(middle_mm) + description_.ripple.wheel_friction * wave(wheel_turn_) +
                    description_.ripple.gear_friction * wave(gear_turn_));
}

void Engine::stand(double drive, bool powered) {
  wheels_mm_s_ = speed_mm_s_ = back_emf_ = 0;
  current_mA_ = powered ? drive * description_.motor.stall_current_mA / warmth_.resistance() : 0;
}

void Engine::advance(double dt_s, double drive, bool powered) {
  slow_s_ += dt_s;
  if (slow_s_ >= slow_step_s) {
    slow_changes(slow_s_, std::abs(current_mA_) / description_.motor.stall_current_mA);
    slow_s_ = 0;
  }
  const double volts = drive * supply_;
  const bool was_still = wheels_mm_s_ == 0;
  const bool forward = was_still ? volts > 0 : wheels_mm_s_ > 0;
  const Side& now = side(forward);
  const double friction = friction_here(now.running);
  const double torque = powered ? torque_ : 0;
  const double excess = description_.friction.breakaway - 1;
  if (held_ || (was_still && std::abs(volts) * torque <= friction * (1 + excess * sticking_))) {
    stand(volts, powered);
    return;
  }
  // Stribeck: the excess of friction at rest fades with speed.
  const double faded = wheels_mm_s_ / description_.friction.fade_mm_s;
  const double drag = friction * (1 + excess / (1 + faded * faded));
  const double pull = volts * torque - (forward ? drag : -drag);
  // Semi-implicit: what grows with speed is taken at the new speed, so that any step is stable.
  const double damping = torque * now.emf + viscous_;
  const double next = (wheels_mm_s_ + dt_s * gain_mm_s2_ * pull) / (1 + dt_s * gain_mm_s2_ * damping);
  if (!was_still && (next > 0) != forward) {  // friction stops, it never drives back
    if (!steady_) sticking_ = 1 + breakaway_luck * luck_.uniform(-1, 1);
    stand(volts, powered);
    return;
  }
  wheels_mm_s_ = next;
  const double emf = now.emf * next;
  current_mA_ = powered ? (volts - emf) * description_.motor.stall_current_mA / warmth_.resistance() : 0;
  back_emf_ = emf / supply_ + emf_noise * luck_.uniform(-1, 1);
  move(dt_s);
}

void Engine::move(double dt_s) {
  // The wave leads the friction's by a quarter turn: eccentric wheels are slow and heavy at different angles.
  double ahead = wheel_turn_ + 0.25;
  if (ahead >= 1) ahead -= 1;
  speed_mm_s_ = wheels_mm_s_ * (1 + description_.ripple.eccentricity * wave(ahead));
  const double step_mm = speed_mm_s_ * dt_s;
  position_mm_ += step_mm;
  distance_mm_ += std::abs(step_mm);
  turn_on(wheel_turn_, step_mm * wheel_turns_per_mm_);
  turn_on(gear_turn_, step_mm * gear_turns_per_mm_);
  slip_in_mm_ -= std::abs(step_mm);
  if (slip_in_mm_ < 0 && !steady_) {
    slip_in_mm_ = slip_every_mm * luck_.exponential();
    turn_on(wheel_turn_, slip_mm * luck_.uniform(-1, 1) * wheel_turns_per_mm_);
  }
  if (position_mm_ >= lowest_mm_ && position_mm_ <= highest_mm_) {
    if (position_mm_ > lowest_mm_ + buffer_play_mm && position_mm_ < highest_mm_ - buffer_play_mm) at_buffer_ = false;
    return;
  }
  if (!at_buffer_) ++buffer_hits_;
  at_buffer_ = true;  // pushing on is not another hit
  position_mm_ = std::clamp(position_mm_, lowest_mm_, highest_mm_);
  wheels_mm_s_ = speed_mm_s_ = back_emf_ = 0;
}

}  // namespace lapwright::simulated
