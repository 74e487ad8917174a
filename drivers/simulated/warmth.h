// How warm an engine is: its gears and its motor each follow their own pace, faster when they work harder.
#pragma once

#include "drivers/simulated/engine_description.h"

namespace lapwright::simulated {

/// Warmth counts from 0 (room) to 1 (as warm as long running makes it).
class Warmth {
 public:
  explicit Warmth(const ThermalDescription& description) : thermal_(description) {}
  /// @param load  motor current as a share of stall current
  void advance(double dt_s, bool running, double load);
  void set_warm() { gears_ = motor_ = 1; }

  [[nodiscard]] double gears() const { return gears_; }
  [[nodiscard]] double motor() const { return motor_; }
  /// Factors on what the description calls warm values.
  [[nodiscard]] double friction() const { return 1 + thermal_.cold_friction * (1 - gears_); }
  [[nodiscard]] double resistance() const { return 1 - thermal_.resistance_rise * (1 - motor_); }
  [[nodiscard]] double magnet() const { return 1 + thermal_.magnet_fade * (1 - motor_); }

 private:
  ThermalDescription thermal_;
  double gears_ = 0;
  double motor_ = 0;
};

}  // namespace lapwright::simulated
