#include "tuning/drive.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace {

double trim_factor(const Traits& traits, const DriveSettings& settings, Direction direction) {
  const int trim = settings.trim[index(direction)];
  if (!traits.trims_act.value_or(false) || trim == 0) return 1.0;  // 0: trim not used (NMRA S-9.2.2 CV66)
  return trim / 128.0;
}

}  // namespace

double drive_of_value(const Traits& traits, const DriveSettings& settings, double value, Direction direction) {
  double drive = value;
  if (traits.table_scaled.value_or(false)) {
    drive = settings.start_voltage + (settings.top_voltage - settings.start_voltage) * value / 255.0;
  }
  return std::clamp(drive * trim_factor(traits, settings, direction), 0.0, 255.0);
}

double value_of_drive(const Traits& traits, const DriveSettings& settings, double drive, Direction direction) {
  const double untrimmed = drive / trim_factor(traits, settings, direction);
  if (!traits.table_scaled.value_or(false)) return untrimmed;
  return (untrimmed - settings.start_voltage) * 255.0 / (settings.top_voltage - settings.start_voltage);
}

double table_position(StepMode mode, int step) {
  if (mode == StepMode::steps28) return step;
  return 1.0 + (step - 1) * 27.0 / 125.0;
}

double value_of_step(const DriveSettings& settings, StepMode mode, int step) {
  const double position = table_position(mode, step);
  const auto below = static_cast<std::size_t>(std::clamp(std::floor(position), 1.0, 28.0)) - 1;
  const std::size_t above = std::min(below + 1, settings.table.size() - 1);
  const double share = position - static_cast<double>(below + 1);
  return settings.table[below] + share * (settings.table[above] - settings.table[below]);
}

}  // namespace lapwright
