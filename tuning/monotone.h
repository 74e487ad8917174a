// A smooth curve through points that never turns where the points don't: monotone piecewise cubic Hermite
// interpolation.
#pragma once

#include <vector>

namespace lapwright {

/// After F. N. Fritsch and R. E. Carlson, "Monotone Piecewise Cubic Interpolation", SIAM J. Numer. Anal. 17(2), 1980:
/// start from three-point slopes, then shrink each interval's pair into the circle of radius 3 that keeps it monotone.
class MonotoneCurve {
 public:
  /// @param x  strictly ascending. @param y  as many values; where they turn, the curve turns at the point itself.
  /// @throws std::invalid_argument  for no points, unequal counts, an x that does not ascend, or values not finite
  MonotoneCurve(std::vector<double> x, std::vector<double> y);
  /// Exactly y at the points; held flat before the first and behind the last.
  [[nodiscard]] double operator()(double x) const;
  /// dy/dx at each point.
  [[nodiscard]] const std::vector<double>& slopes() const { return slopes_; }

 private:
  std::vector<double> x_;
  std::vector<double> y_;
  std::vector<double> slopes_;
};

}  // namespace lapwright
