// Scale arithmetic: proportions by name, and scale speed of the prototype to speed and time of the model and back.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace lapwright {

/// How many times the prototype is longer than the model.
struct Scale {
  std::string name = "HO";
  double ratio = 87.1;
};

/// A scale's name, spelt as its standard does, and its ratio.
struct NamedRatio {
  std::string_view name;
  double ratio;
};

/// The proportions of NEM 010 and NMRA S-1.2/S-1.3. HO is taken as 87.1; 3.5 mm to the foot exactly is 87.0857.
[[nodiscard]] std::span<const NamedRatio> named_ratios();
/// By exact name: "0" (digit, 1:45) and "O" (letter, 1:48) differ, so do "H0" (1:87) and "HO" (1:87.1). Empty if there
/// is no such name. "G" is none: five ratios run on its 45 mm track, so the ratio has to be given as a number.
[[nodiscard]] std::optional<Scale> named_scale(std::string_view name);

enum class SpeedUnit : std::uint8_t { mph, kmh };

/// "mph" or "km/h".
[[nodiscard]] std::string_view unit_name(SpeedUnit unit);

// Exact by definition.
inline constexpr double foot_mm = 304.8;
inline constexpr double mile_mm = 5280 * foot_mm;  ///< the statute mile
inline constexpr double kilometre_mm = 1'000'000;
inline constexpr double hour_s = 3600;

/// Prototype length that one unit of speed covers in an hour, mm.
[[nodiscard]] constexpr double hourly_mm(SpeedUnit unit) { return unit == SpeedUnit::mph ? mile_mm : kilometre_mm; }

/// Speed of the model in mm/s for a scale speed in `unit`.
[[nodiscard]] constexpr double model_mm_s(double speed, SpeedUnit unit, double ratio) {
  return speed * hourly_mm(unit) / (hour_s * ratio);
}

/// Scale speed in `unit` of a model that moves at `speed_mm_s`.
[[nodiscard]] constexpr double scale_speed(double speed_mm_s, SpeedUnit unit, double ratio) {
  return speed_mm_s * hour_s * ratio / hourly_mm(unit);
}

/// Scale speed in `unit` of a model that covers `base_mm` in `time_s`.
[[nodiscard]] constexpr double speed_over_base(double base_mm, double time_s, SpeedUnit unit, double ratio) {
  return scale_speed(base_mm / time_s, unit, ratio);
}

/// Seconds in which a model covers `base_mm` at a scale speed in `unit`.
[[nodiscard]] constexpr double time_over_base_s(double base_mm, double speed, SpeedUnit unit, double ratio) {
  return base_mm / model_mm_s(speed, unit, ratio);
}

/// The same prototype speed in another unit.
[[nodiscard]] constexpr double in_unit(double speed, SpeedUnit from, SpeedUnit to) {
  return from == to ? speed : speed * hourly_mm(from) / hourly_mm(to);
}

}  // namespace lapwright
