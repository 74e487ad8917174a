// The chance that a speed lies in tolerance.
#pragma once

#include <cmath>

namespace lapwright {

/// That a normal value lies within ± room. @param off  its mean  @param sd  its standard deviation, in the same unit
[[nodiscard]] inline double chance_within(double room, double off, double sd) {
  const auto below = [](double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); };
  return room <= 0 ? 0 : below((room - off) / sd) - below((-room - off) / sd);
}

}  // namespace lapwright
