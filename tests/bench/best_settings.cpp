#include "tests/bench/best_settings.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace lapwright::bench {
namespace {

constexpr double most_error = 3;
constexpr int around = 2;  // values beside the crossing that are looked at

bool better(const BestSettings& one, const BestSettings& other) {
  return one.attainable != other.attainable ? one.attainable > other.attainable : one.sum < other.sum;
}

BestSettings rate(const LevelLaw& law, const TrueCurve& curve, const std::vector<StepAim>& aims,
                  const DriveSettings& settings) {
  BestSettings result;
  result.settings = settings;
  for (std::size_t i = 0; i < result.error.size(); ++i) {
    const BestValue best = best_value(law, curve, settings, aims[i]);
    result.settings.table[i] = best.value;
    result.error[i] = best.error;
    result.attainable += best.error <= 1 ? 1 : 0;
    result.sum += std::pow(std::min(best.error, most_error), 4);  // errors near the edge cost passes
  }
  return result;
}

struct Span {
  int from = 0;
  int to = 0;
  int step = 1;
};

/// Trims of both directions and CV5 over spans; the reverse trim within `apart` (a share) of the forward one.
BestSettings search(const LevelLaw& law, const TrueCurve& curve, const std::vector<StepAim>& aims, Span tops,
                    Span trims, double apart) {
  BestSettings best;
  best.sum = 1e9;
  for (int top = tops.from; top <= tops.to; top += tops.step) {
    for (int forward = trims.from; forward <= trims.to; forward += trims.step) {
      const int margin = static_cast<int>(std::ceil(apart * forward));
      for (int reverse = forward - margin; reverse <= forward + margin; ++reverse) {
        if (reverse < 1 || reverse > 255) continue;
        DriveSettings settings;
        settings.top_voltage = top;
        settings.trim = {forward, reverse};
        const BestSettings rated = rate(law, curve, aims, settings);
        if (better(rated, best)) best = rated;
      }
    }
  }
  return best;
}

}  // namespace

int LevelLaw::level(const DriveSettings& settings, int value, Direction direction) const {
  double drive = value;
  if (table_scaled) drive = settings.start_voltage + (settings.top_voltage - settings.start_voltage) * value / 255.0;
  if (trims_act) drive *= settings.trim[index(direction)] / 128.0;
  const double wanted = std::clamp(drive / 255, 0.0, 1.0) * levels;
  return static_cast<int>(cut_off ? std::floor(wanted + 1e-9) : std::round(wanted));
}

double error_share(const LevelLaw& law, const TrueCurve& curve, const DriveSettings& settings, const StepAim& aim,
                   int value) {
  double worst = 0;
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const double speed = curve.speed_mm_s(law.level(settings, value, direction), direction);
    worst = std::max(worst, std::abs(speed - aim.speed_mm_s) / aim.tolerance_mm_s);
  }
  return worst;
}

BestValue best_value(const LevelLaw& law, const TrueCurve& curve, const DriveSettings& settings, const StepAim& aim) {
  const auto sum = [&](int value) {
    return curve.speed_mm_s(law.level(settings, value, Direction::forward), Direction::forward) +
           curve.speed_mm_s(law.level(settings, value, Direction::reverse), Direction::reverse);
  };
  int low = 0;  // the first value whose mean speed reaches the target is `high`
  int high = 255;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    (sum(middle) >= 2 * aim.speed_mm_s ? high : low) = middle;
  }
  BestValue best{0, 1e9};
  for (int value = std::max(0, low - around); value <= std::min(255, high + around); ++value) {
    const double error = error_share(law, curve, settings, aim, value);
    if (error < best.error) best = BestValue{value, error};
  }
  return best;
}

BestSettings search_settings(const LevelLaw& law, const TrueCurve& curve, const std::vector<StepAim>& aims) {
  const Span whole{255, 255, 1};
  const Span no_trim{128, 128, 1};
  if (!law.table_scaled) {
    if (!law.trims_act) return search(law, curve, aims, whole, no_trim, 0);
    return search(law, curve, aims, whole, Span{16, 144, 1}, 0.25);
  }
  if (!law.trims_act) return search(law, curve, aims, Span{16, 255, 1}, no_trim, 0);
  const BestSettings rough = search(law, curve, aims, Span{31, 255, 8}, Span{64, 128, 8}, 0.2);
  const int top = rough.settings.top_voltage;
  const int trim = rough.settings.trim[0];
  const BestSettings fine = search(law, curve, aims, Span{std::max(16, top - 8), std::min(255, top + 8), 2},
                                   Span{trim - 4, trim + 4, 2}, 0.2);
  return better(fine, rough) ? fine : rough;
}

}  // namespace lapwright::bench
