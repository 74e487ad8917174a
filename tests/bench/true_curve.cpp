#include "tests/bench/true_curve.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "tuning/monotone.h"

namespace lapwright::bench {
namespace {

constexpr int samples = 40;        // spread evenly in the logarithm of the level's height above the floor
constexpr int dense_at_floor = 4;  // levels next to the floor, where the curve bends

}  // namespace

TrueCurve::TrueCurve(simulated::Truth& truth, int levels, bool inverted, double top_mm_s) : levels_(levels) {
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const Direction moves = inverted ? opposite(direction) : direction;
    speeds_mm_s_[index(direction)] = sample(truth, moves, top_mm_s);
  }
}

std::vector<double> TrueCurve::sample(simulated::Truth& truth, Direction moves, double top_mm_s) const {
  const auto speed = [&](int level) { return truth.speed_mm_s(static_cast<double>(level) / levels_, moves); };
  int still = 0;  // the highest level known to stall, and the lowest known to move
  int moving = levels_;
  while (moving - still > 1) {
    const int middle = (still + moving) / 2;
    (speed(middle) > 0 ? moving : still) = middle;
  }
  int below = moving;
  int top = levels_;  // the lowest level known to be at least as fast as of interest
  while (top - below > 1) {
    const int middle = (below + top) / 2;
    (speed(middle) >= top_mm_s ? top : below) = middle;
  }
  std::set<int> chosen = {moving, top};
  for (int above = 0; above <= dense_at_floor; ++above) chosen.insert(std::min(moving + above, top));
  const double first = std::min(moving + dense_at_floor, top);
  for (int i = 0; i <= samples; ++i) {
    chosen.insert(static_cast<int>(std::lround(first * std::pow(top / first, static_cast<double>(i) / samples))));
  }
  std::vector<double> at;
  std::vector<double> speeds;
  for (const int level : chosen) {
    at.push_back(level);
    speeds.push_back(speed(level));
  }
  const MonotoneCurve curve(at, speeds);
  std::vector<double> filled(static_cast<std::size_t>(top) + 1, 0.0);
  for (int level = moving; level <= top; ++level) filled[static_cast<std::size_t>(level)] = curve(level);
  return filled;
}

}  // namespace lapwright::bench
