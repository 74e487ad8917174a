#include "tuning/inversion.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace lapwright {
namespace {

constexpr double top_value = 240;    // room above for later corrections, fine division below
constexpr int highest_top = 245;     // above it a top entry that turns out too slow soon has nowhere to go
constexpr double worth_of_room = 1;  // steps
constexpr double even_share = 0.8;   // an error of this share of tolerance is proved every other time
constexpr double share_width = 0.08;
constexpr int trim_reach = 10;
constexpr int scaled_trim_reach = 7;
constexpr int top_voltage_reach = 3;

struct Range {
  int from = 128;
  int to = 128;
};

Range around(double centre, int reach) {
  const int middle = static_cast<int>(std::lround(centre));
  return Range{std::clamp(middle - reach, 1, 255), std::clamp(middle + reach, 1, 255)};
}

struct Best {
  SettingsChoice choice;
  double worth = -std::numeric_limits<double>::infinity();  // its score, less what a lack of room above costs
};

void consider(Best& best, const Traits& traits, const DriveSettings& settings, const CurvePair& curves,
              const EntryAims& aims) {
  const double score = settings_score(traits, settings, curves, aims);
  const bool has_room = best_value(traits, settings, curves, aims.back()) <= highest_top;
  const double worth = score - (has_room ? 0 : worth_of_room);
  if (worth > best.worth) best = Best{{settings, score}, worth};
}

}  // namespace

RisingCurve::RisingCurve(const Response& response, Direction direction) : rounding_(response.scales().rounding) {
  constexpr int points = static_cast<int>(256 * points_per_count);
  speeds_.reserve(points + 1);
  double highest = 0;
  for (int i = 0; i <= points; ++i) {
    const double drive = static_cast<double>(i) / points_per_count;
    highest = std::max(highest, response.curve(Query{drive, direction}));
    speeds_.push_back(highest);
  }
}

double RisingCurve::speed(double drive) const {
  const double place = std::clamp(rounding_(drive), 0.0, 255.0) * points_per_count;
  const auto below = static_cast<std::size_t>(place);
  if (below + 1 >= speeds_.size()) return speeds_.back();
  const double share = place - static_cast<double>(below);
  return speeds_[below] + share * (speeds_[below + 1] - speeds_[below]);
}

double RisingCurve::drive(double speed) const {
  const auto above = std::lower_bound(speeds_.begin(), speeds_.end(), speed);
  if (above == speeds_.end()) return 255;
  if (above == speeds_.begin()) return 0;
  const double low = *(above - 1);
  const double share = *above > low ? (speed - low) / (*above - low) : 1.0;
  return (static_cast<double>(above - speeds_.begin()) - 1 + share) / points_per_count;
}

double error_share(const Traits& traits, const DriveSettings& settings, const CurvePair& curves, const EntryAim& aim,
                   int value) {
  double worst = 0;
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const double speed = curves.of(direction).speed(drive_of_value(traits, settings, value, direction));
    worst = std::max(worst, std::abs(speed - aim.speed) / aim.tolerance);
  }
  return worst;
}

int best_value(const Traits& traits, const DriveSettings& settings, const CurvePair& curves, const EntryAim& aim) {
  const double forward = value_of_drive(traits, settings, curves.forward.drive(aim.speed), Direction::forward);
  const double reverse = value_of_drive(traits, settings, curves.reverse.drive(aim.speed), Direction::reverse);
  // The best compromise lies between the values that suit one direction each.
  const int from = std::clamp(static_cast<int>(std::floor(std::min(forward, reverse))), 0, 255);
  const int to = std::clamp(static_cast<int>(std::ceil(std::max(forward, reverse))), 0, 255);
  int best = from;
  double smallest = std::numeric_limits<double>::infinity();
  const int stride = std::max(1, (to - from) / 8);
  for (int value = from; value <= to; value += stride) {
    const double share = error_share(traits, settings, curves, aim, value);
    if (share < smallest) {
      smallest = share;
      best = value;
    }
  }
  return best;
}

double settings_score(const Traits& traits, const DriveSettings& settings, const CurvePair& curves,
                      const EntryAims& aims) {
  double score = 0;
  for (const EntryAim& aim : aims) {
    const int value = best_value(traits, settings, curves, aim);
    const double share = error_share(traits, settings, curves, aim, value);
    score += 1 / (1 + std::exp((share - even_share) / share_width)) - 0.1 * std::min(share, 3.0);
  }
  return score;
}

SettingsChoice choose_settings(const Traits& traits, const CurvePair& curves, const EntryAims& aims) {
  const double top = aims.back().speed;
  const double forward_drive = curves.forward.drive(top);
  const double reverse_drive = curves.reverse.drive(top);
  const bool scaled = traits.table_scaled.value_or(false);
  const bool trims = traits.trims_act.value_or(false);
  Range voltage{255, 255};
  Range forward{128, 128};
  Range reverse{128, 128};
  if (scaled) {
    voltage = around(255 * std::max(forward_drive, reverse_drive) / top_value, top_voltage_reach);
    if (trims) {
      const double ratio = std::sqrt(forward_drive / reverse_drive);
      forward = around(128 * ratio, scaled_trim_reach);
      reverse = around(128 / ratio, scaled_trim_reach);
    }
  } else if (trims) {
    forward = around(128 * forward_drive / top_value, trim_reach);
    reverse = around(128 * reverse_drive / top_value, trim_reach);
  }
  Best best;
  for (int top_voltage = voltage.from; top_voltage <= voltage.to; ++top_voltage) {
    for (int trim_forward = forward.from; trim_forward <= forward.to; ++trim_forward) {
      for (int trim_reverse = reverse.from; trim_reverse <= reverse.to; ++trim_reverse) {
        DriveSettings settings;
        settings.top_voltage = top_voltage;
        settings.trim = {trim_forward, trim_reverse};
        consider(best, traits, settings, curves, aims);
      }
    }
  }
  fill_table(traits, best.choice.settings, curves, aims);
  return best.choice;
}

void fill_table(const Traits& traits, DriveSettings& settings, const CurvePair& curves, const EntryAims& aims) {
  int lowest = 0;
  for (std::size_t entry = 0; entry < aims.size(); ++entry) {
    lowest = std::max(lowest, best_value(traits, settings, curves, aims[entry]));
    settings.table[entry] = lowest;
  }
}

}  // namespace lapwright
