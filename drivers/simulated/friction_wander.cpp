#include "drivers/simulated/friction_wander.h"

#include <algorithm>
#include <cmath>

namespace lapwright::simulated {

namespace {
constexpr double slow_factor = 15;  // the slow drift's correlation time as a multiple of the fast one's
constexpr double jolt_fade_s = 0.4;

double relaxed(double value, double dt_s, double time_s, double kick) {
  const double keep = std::exp(-dt_s / time_s);
  return keep * value + std::sqrt(1 - keep * keep) * kick;
}
}  // namespace

FrictionWander::FrictionWander(const FrictionDescription& description, std::uint64_t seed)
    : sd_(description.wander),
      correlation_s_(description.wander_s),
      jolts_per_s_(description.jolts_per_s),
      jolt_(description.jolt),
      luck_(seed) {
  fast_ = luck_.normal();
  slow_ = luck_.normal();
}

void FrictionWander::make_still() {
  sd_ = 0;
  jolt_ = 0;
  share_ = 0;
}

void FrictionWander::advance(double dt_s) {
  if (sd_ == 0 && jolt_ == 0) return;
  fast_ = relaxed(fast_, dt_s, correlation_s_, luck_.normal());
  slow_ = relaxed(slow_, dt_s, slow_factor * correlation_s_, luck_.normal());
  jolts_ *= std::exp(-dt_s / jolt_fade_s);
  if (luck_.chance(jolts_per_s_ * dt_s)) jolts_ += jolt_ * luck_.exponential();
  // The two parts multiply a little: a dirty minute is also an uneven one, so the sum is not normal.
  const double drift = sd_ * (0.7 * slow_ + 0.7 * fast_ * (1 + 0.3 * slow_));
  share_ = std::max(-0.5, drift + jolts_);
}

}  // namespace lapwright::simulated
