// Dead reckoning of the engine's forward end between the gates that see it.
#pragma once

#include <algorithm>
#include <cmath>

#include "tuning/clock.h"
#include "tuning/turn_lag.h"

namespace lapwright {

/// Positions in mm, counted on over laps; velocities in mm/s, positive forward.
class Reckoning {
 public:
  explicit Reckoning(Instant now) : reckoned_at_(now) {}

  [[nodiscard]] double position_mm(Instant now) const {
    return at_mm_ + velocity_mm_s_ * in_seconds(now - reckoned_at_);
  }
  [[nodiscard]] double velocity_mm_s() const { return velocity_mm_s_; }
  [[nodiscard]] double lag_s() const { return lag_.s(); }

  /// Way since a gate saw the forward end.
  [[nodiscard]] double since_seen_mm(Instant now) const {
    return since_seen_mm_ + std::abs(velocity_mm_s_) * in_seconds(now - reckoned_at_);
  }

  /// A command went out after which the engine goes at this speed.
  void change_velocity(double velocity_mm_s, Instant now) {
    since_seen_mm_ = since_seen_mm(now);
    at_mm_ = position_mm(now) + (velocity_mm_s_ - velocity_mm_s) * lag_.s();
    reckoned_at_ = now;
    velocity_mm_s_ = velocity_mm_s;
  }
  /// A gate saw the forward end.
  void seen_at(double at_mm, Instant now) {
    before_ = Before{at_mm - position_mm(now), since_seen_mm(now), seen_velocity_mm_s_};
    at_mm_ = at_mm;
    since_seen_mm_ = 0;
    seen_velocity_mm_s_ = velocity_mm_s_;
    reckoned_at_ = now;
  }
  /// What the gate saw was not the forward end: as if it had not been told.
  void revoke_sighting() {
    at_mm_ -= before_.moved_mm;
    since_seen_mm_ += before_.since_seen_mm;
    seen_velocity_mm_s_ = before_.seen_velocity_mm_s;
    before_ = Before{};
  }
  /// How far from the reckoned place the engine may be.
  /// @param share  of the way since a gate saw it
  [[nodiscard]] double doubt_mm(double share, Instant now) const {
    return share * since_seen_mm(now) + 2 * lag_.sd_s() * std::abs(velocity_mm_s_ - seen_velocity_mm_s_);
  }

  struct Forecast {  // of the next gate, before it is seen
    Instant at{};
    double ahead_mm = 0;
    double change_mm_s = 0;  ///< of speed since a gate last saw the engine, positive: towards the gate
    double way_mm = 0;       ///< since then
  };
  /// @param ahead_mm  to that gate in the present direction
  [[nodiscard]] Forecast forecast(double ahead_mm, Instant now) const {
    const double change_mm_s = std::copysign(1.0, velocity_mm_s_) * (velocity_mm_s_ - seen_velocity_mm_s_);
    return Forecast{now, ahead_mm, change_mm_s, since_seen_mm(now)};
  }
  /// The gate saw the engine now. @param share  of the way by which reckoning may be off, at most
  void learn(const Forecast& before, double share, Instant now) {
    const double on_mm = std::abs(velocity_mm_s_) * in_seconds(now - before.at);
    const double elsewhere_mm = sure_to_mm + 0.5 * share * (before.way_mm + on_mm);
    lag_.learn(on_mm - before.ahead_mm, before.change_mm_s, elsewhere_mm);
  }

 private:
  static constexpr double sure_to_mm = 2;
  struct Before {
    double moved_mm = 0;
    double since_seen_mm = 0;
    double seen_velocity_mm_s = 0;
  };
  double at_mm_ = 0;
  double velocity_mm_s_ = 0;
  Instant reckoned_at_;
  double since_seen_mm_ = 0;       ///< up to reckoned_at_
  double seen_velocity_mm_s_ = 0;  ///< when a gate last saw the forward end
  Before before_;                  ///< the last sighting
  TurnLag lag_;
};

}  // namespace lapwright
