// The rule about a motor that is blocked: far more current than while the engine ran, and no gate sees it.
#pragma once

#include <algorithm>
#include <optional>

#include "tuning/clock.h"

namespace lapwright {

struct StallLimits {
  double share = 2.5;   ///< of the most that the engine drew while gates saw it pass
  double within_s = 8;  ///< that it draws so much, and no gate sees it
};

/// Pure. Only steps up to the highest one that is known to move the engine are judged. An engine whose decoder does not
/// push harder when it is held is not noticed; the rule about missing passages is for it.
class StallWatch {
 public:
  explicit StallWatch(const StallLimits& limits) : limits_(limits) {}

  /// @param step  0: to stand
  void commanded(int step);
  void passage();
  /// One reading while or while not commanded to run. True: blocked.
  [[nodiscard]] bool feed(Instant now, double current_mA);
  /// What is read of the dead track: a sensor's zero may lie below nothing, by its own error or its converter's.
  void zero_is(double current_mA) { zero_mA_ = std::min(0.0, current_mA); }
  /// Readings come, and for a while there was next to no current more than in the dead track.
  [[nodiscard]] bool reads_nothing() const { return fed_s_ > 3 && step_ > 0 && mean_mA_ < zero_mA_ + 2; }
  [[nodiscard]] double mean_mA() const { return mean_mA_; }    ///< of about the last second
  [[nodiscard]] double usual_mA() const { return usual_mA_; }  ///< 0: not known

 private:
  StallLimits limits_;
  int step_ = 0;
  double stood_s_ = 0;                 ///< on end, and read meanwhile
  std::optional<double> standing_mA_;  ///< least that was read then: others draw it, too
  int highest_step_ = 0;               ///< at which a gate saw it pass
  double mean_mA_ = 0;
  double usual_mA_ = 0;
  double zero_mA_ = 0;  ///< what is read of the dead track, if less than nothing
  int passages_ = 0;
  Instant fed_{};
  double fed_s_ = 0;                   ///< so much time while it was commanded to run
  std::optional<Instant> high_since_;  ///< and no passage, and no change between standing and running
};

}  // namespace lapwright
