#include "tuning/scale.h"

#include <array>

namespace lapwright {

std::span<const NamedRatio> named_ratios() {
  static constexpr std::array<NamedRatio, 17> ratios{{
      {"Z", 220},
      {"N", 160},
      {"TT", 120},
      {"H0", 87},
      {"HO", 87.1},
      {"OO", 76.2},
      {"S", 64},
      {"0", 45},
      {"O", 48},
      {"I", 32},
      {"#1", 32},
      {"II", 22.5},
      {"IIm", 22.5},
      {"III", 16},
      {"V", 11},
      {"VII", 8},
      {"X", 5.5},
  }};
  return ratios;
}

std::optional<Scale> named_scale(std::string_view name) {
  for (const NamedRatio& entry : named_ratios()) {
    if (entry.name == name) return Scale{std::string(entry.name), entry.ratio};
  }
  return std::nullopt;
}

std::string_view unit_name(SpeedUnit unit) { return unit == SpeedUnit::mph ? "mph" : "km/h"; }

}  // namespace lapwright
