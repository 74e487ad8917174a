#include "tuning/response_scales.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <limits>
#include <span>

namespace lapwright {
namespace {

constexpr Eigen::Index thorough_below = 48;  // passes

struct Knob {
  double ResponseScales::*scale;
  double centre;  // of the prior
  double width;   // of the prior, in natural logarithms
  double lowest;
  double highest;
};

constexpr std::array<Knob, 7> knobs = {{
    {&ResponseScales::shape, 1.0, 1.0, 0.03, 10},
    {&ResponseScales::warming, 0.02, 0.8, 0.003, 2},  // of an engine that friction does not slow
    {&ResponseScales::warming_share, 0.006, 0.7, 0.0003, 0.025},
    {&ResponseScales::wander, 0.5, 1.0, 0.02, 20},
    {&ResponseScales::scatter, 0.008, 1.2, 0.0005, 0.5},
    {&ResponseScales::repeatability, 0.004, 1.0, 0.0002, 0.1},
    {&ResponseScales::cell, 0.08, 1.0, 0.004, 1},
}};

// A cold engine has so much more friction: an assumption, set on simulated engines and tried on some that warm by none
// of it and by two fifths; the width of the prior lets the passes overrule it.
constexpr double warming_of_loss = 0.12;

double centre_of(const Knob& knob, double loss) {
  return knob.centre + (knob.scale == &ResponseScales::warming ? warming_of_loss * loss : 0.0);
}

bool turn(ResponseScales& scales, const Knob& knob, double factor) {
  const double value = scales.*knob.scale * factor;
  if (value < knob.lowest || value > knob.highest) return false;
  scales.*knob.scale = value;
  return true;
}

// Those that decide how much of what was seen was the cold engine, the hour, or the curve itself.
constexpr std::array<Knob, 4> doubtful = {knobs[0], knobs[1], knobs[2], knobs[3]};
constexpr std::array<double, 4> rival_factors = {6, 2.5, 1 / 2.5, 1 / 6.0};
constexpr double least_share = 0.1;  // of the best one's

}  // namespace

ScaleSearch::ScaleSearch(const Eigen::VectorXd& speeds, double slope, double loss)
    : speeds_(speeds), slope_(slope), loss_(loss), work_(speeds.size(), speeds.size()) {}

double ScaleSearch::evidence(const kernel::Parts& parts, const ResponseScales& scales) {
  parts.sum_into(work_, scales, slope_);
  const Eigen::LLT<Eigen::Ref<Eigen::MatrixXd>> factor(work_);
  if (factor.info() != Eigen::Success) return -std::numeric_limits<double>::infinity();
  const Eigen::VectorXd whitened = factor.matrixL().solve(speeds_ - parts.lacks(scales));
  double result = -0.5 * whitened.squaredNorm() - work_.diagonal().array().log().sum();
  for (const Knob& knob : knobs) {
    const double off = std::log(scales.*knob.scale / centre_of(knob, loss_)) / knob.width;
    result -= 0.5 * off * off;
  }
  return result;
}

void ScaleSearch::climb_rounds(const kernel::Parts& parts, ResponseScales& scales, double& best, bool thorough) {
  const auto improves = [&](const ResponseScales& other) {
    const double evidence_there = evidence(parts, other);
    if (evidence_there <= best) return false;
    best = evidence_there;
    scales = other;
    return true;
  };
  static constexpr std::array<double, 3> strides = {4.0, 2.0, 1.4};
  static constexpr std::array<double, 1> few_strides = {1.6};
  for (const double stride : thorough ? std::span<const double>(strides) : std::span<const double>(few_strides)) {
    for (const Knob& knob : knobs) {
      for (const double factor : {stride, 1 / stride}) {
        ResponseScales other = scales;
        bool moved = false;
        while (turn(other, knob, factor) && improves(other)) moved = true;
        if (moved) break;
      }
    }
  }
}

ResponseScales ScaleSearch::climb(const kernel::Parts& parts, const ResponseScales& from) {
  const bool thorough = parts.size() < thorough_below;
  ResponseScales result = from;
  double best = evidence(parts, result);
  climb_rounds(parts, result, best, thorough);
  if (!thorough) return result;
  // Warming and wander explain the same slow changes: what one gives up the other has to take over.
  for (const bool warms : {true, false}) {
    ResponseScales other = result;
    for (const Knob& knob : knobs) {
      const bool of_warming = knob.scale == &ResponseScales::warming || knob.scale == &ResponseScales::warming_share;
      if (of_warming) other.*knob.scale = centre_of(knob, loss_) * (warms ? 4 : 0.25);
      if (knob.scale == &ResponseScales::wander) other.*knob.scale = knob.centre * (warms ? 0.25 : 4);
    }
    double there = evidence(parts, other);
    climb_rounds(parts, other, there, thorough);
    if (there <= best) continue;
    best = there;
    result = other;
  }
  return result;
}

std::vector<WeighedScales> ScaleSearch::rivals(const kernel::Parts& parts, const ResponseScales& best) {
  const double held = evidence(parts, best);
  std::vector<WeighedScales> result = {WeighedScales{best, 1}};
  for (const Knob& knob : doubtful) {
    for (const double factor : rival_factors) {
      ResponseScales other = best;
      if (!turn(other, knob, factor)) continue;
      const double share = std::exp(std::min(evidence(parts, other) - held, 0.0));
      if (share >= least_share) result.push_back(WeighedScales{other, share});
    }
  }
  double sum = 0;
  for (const WeighedScales& rival : result) sum += rival.share;
  for (WeighedScales& rival : result) rival.share /= sum;
  return result;
}

}  // namespace lapwright
