#include "daemon/pages/chart_axis.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <cmath>

namespace lapwright {

double nice_step(double span, int wanted) {
  const double rough = span / std::max(1, wanted);
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  const double share = rough / power;  // 1 … 10
  const double nice = share < 1.5 ? 1 : share < 3.5 ? 2 : share < 7.5 ? 5 : 10;
  return nice * power;
}

std::vector<double> ChartAxis::ticks(int wanted) const {
  const double step = nice_step(high_ - low_, wanted);
  constexpr double slack = 1e-9;  // of a step: the last tick is not lost to rounding
  std::vector<double> result;
  const auto first = static_cast<long>(std::ceil(low_ / step - slack));
  const auto last = static_cast<long>(std::floor(high_ / step + slack));
  for (long i = first; i <= last; ++i) result.push_back(static_cast<double>(i) * step);
  return result;
}

std::string ChartAxis::label(double tick, int wanted) const {
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(nice_step(high_ - low_, wanted)) + 1e-9)));
  return fmt::format("{:.{}f}", tick + 0.0, decimals);
}

std::vector<int> step_ticks(int top_step) {
  const int stride = std::max(1, static_cast<int>(std::lround(nice_step(top_step, 6))));
  std::vector<int> result = {1};
  for (int step = stride; step < top_step; step += stride) {
    if (step > 1) result.push_back(step);
  }
  if (2 * (top_step - result.back()) < stride && result.back() != 1) result.pop_back();
  if (top_step > 1) result.push_back(top_step);
  return result;
}

}  // namespace lapwright
