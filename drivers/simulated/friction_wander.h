// How friction changes by itself while an engine runs: slow drift, faster wandering, and jolts that fade.
#pragma once

#include <cstdint>

#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/random.h"

namespace lapwright::simulated {

/// Time-dependent part of friction as a share of running friction. Zero for ever when made `still`.
class FrictionWander {
 public:
  FrictionWander(const FrictionDescription& description, std::uint64_t seed);
  /// Lets running time pass; call about every 50 ms.
  void advance(double dt_s);
  void make_still();
  [[nodiscard]] double share() const { return share_; }

 private:
  double sd_;
  double correlation_s_;
  double jolts_per_s_;
  double jolt_;
  Random luck_;
  double fast_ = 0;
  double slow_ = 0;
  double jolts_ = 0;
  double share_ = 0;
};

}  // namespace lapwright::simulated
