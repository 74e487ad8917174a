#include "tuning/monotone.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <stdexcept>
#include <string>
#include <utility>

namespace lapwright {
namespace {

void require_curve(const std::vector<double>& x, const std::vector<double>& y) {
  if (x.empty() || x.size() != y.size()) {
    throw std::invalid_argument("a curve needs as many x as y, and at least one; got " + std::to_string(x.size()) +
                                " and " + std::to_string(y.size()));
  }
  for (std::size_t k = 0; k < x.size(); ++k) {
    if (!std::isfinite(x[k]) || !std::isfinite(y[k]) || (k > 0 && x[k] <= x[k - 1])) {
      throw std::invalid_argument("point " + std::to_string(k) + " of a curve is not finite or its x does not ascend");
    }
  }
}

/// Three-point slopes inside (exact for parabolas, also on uneven points), the chords' at the ends, 0 where y turns.
std::vector<double> first_slopes(const std::vector<double>& x, const std::vector<double>& chord) {
  const std::size_t last = chord.size();
  std::vector<double> slope(last + 1);
  slope.front() = chord.front();
  slope.back() = chord.back();
  for (std::size_t k = 1; k < last; ++k) {
    const double before = x[k] - x[k - 1];
    const double behind = x[k + 1] - x[k];
    const bool turns = chord[k - 1] * chord[k] <= 0;
    slope[k] = turns ? 0 : (behind * chord[k - 1] + before * chord[k]) / (before + behind);
  }
  return slope;
}

}  // namespace

MonotoneCurve::MonotoneCurve(std::vector<double> x, std::vector<double> y) : x_(std::move(x)), y_(std::move(y)) {
  require_curve(x_, y_);
  std::vector<double> chord;
  for (std::size_t k = 1; k < x_.size(); ++k) chord.push_back((y_[k] - y_[k - 1]) / (x_[k] - x_[k - 1]));
  if (chord.empty()) {
    slopes_ = {0};
    return;
  }
  slopes_ = first_slopes(x_, chord);
  for (std::size_t k = 0; k < chord.size(); ++k) {
    if (chord[k] == 0) {
      slopes_[k] = slopes_[k + 1] = 0;
      continue;
    }
    const double alpha = slopes_[k] / chord[k];
    const double beta = slopes_[k + 1] / chord[k];
    const double size = std::hypot(alpha, beta);
    // Shrinking here also shrinks the neighbour's pair, which never leaves the circle by that.
    if (size > 3) {
      slopes_[k] = 3 / size * alpha * chord[k];
      slopes_[k + 1] = 3 / size * beta * chord[k];
    }
  }
}

double MonotoneCurve::operator()(double x) const {
  if (x <= x_.front()) return y_.front();
  if (x >= x_.back()) return y_.back();
  const auto k = static_cast<std::size_t>(std::upper_bound(x_.begin(), x_.end(), x) - x_.begin()) - 1;
  const double width = x_[k + 1] - x_[k];
  const double t = (x - x_[k]) / width;
  const double rise = y_[k + 1] - y_[k];
  const double from = slopes_[k] * width;
  const double to = slopes_[k + 1] * width;
  // Hermite's cubic as a polynomial in t: exact at t = 0 and on plateaus.
  const double y = y_[k] + t * (from + t * ((3 * rise - 2 * from - to) + t * (from + to - 2 * rise)));
  const auto [low, high] = std::minmax(y_[k], y_[k + 1]);
  return std::clamp(y, low, high);  // rounding must not leave the interval that mathematics keeps
}

}  // namespace lapwright
