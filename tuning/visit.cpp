#include "tuning/visit.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace lapwright {
namespace {

constexpr double agreement = 0.25;  // by which two times of one visit may differ: the engine warms and its drive rises
constexpr double shortest_quiet_s = 1.5;
constexpr double longest_stay_s = 60;

struct Stay {
  std::optional<double> head_s;  // the first time the beam was blocked
  std::optional<double> tail_s;  // the last time it became clear
};

bool agree(double one, double other) {
  return std::abs(one - other) <= agreement * std::max(std::abs(one), std::abs(other));
}

}  // namespace

double Visit::quiet_s() const {
  if (!begun()) return shortest_quiet_s;
  std::array<bool, 2> blocked = {};
  for (const Passage& passage : seen_) {
    if (passage.gate == trap_.low_gate) blocked[0] = passage.blocked;
    if (passage.gate == trap_.high_gate) blocked[1] = passage.blocked;
  }
  const double lasted_s = seen_.back().at_s - seen_.front().at_s;
  if (blocked[0] || blocked[1]) return longest_stay_s;  // still there, unless the edge of its leaving is missing
  return std::max(shortest_quiet_s, 1.2 * lasted_s);
}

std::optional<Visit::Finding> Visit::finding() const {
  std::array<Stay, 2> gates;  // low, high
  for (const Passage& passage : seen_) {
    if (passage.gate != trap_.low_gate && passage.gate != trap_.high_gate) continue;
    Stay& stay = gates[passage.gate == trap_.low_gate ? 0 : 1];
    if (passage.blocked && !stay.head_s) stay.head_s = passage.at_s;
    if (!passage.blocked) stay.tail_s = passage.at_s;
  }
  for (const Stay& stay : gates) {
    if (!stay.head_s || !stay.tail_s) return std::nullopt;
  }
  const double head_s = *gates[1].head_s - *gates[0].head_s;
  const double tail_s = *gates[1].tail_s - *gates[0].tail_s;
  const double low_s = *gates[0].tail_s - *gates[0].head_s;
  const double high_s = *gates[1].tail_s - *gates[1].head_s;
  if (head_s == 0 || !agree(head_s, tail_s) || !agree(low_s, high_s)) return std::nullopt;
  return Finding{2 * trap_.base_mm / std::abs(head_s + tail_s), head_s > 0,
                 2 * std::abs((head_s - tail_s) / (head_s + tail_s)), std::max(*gates[0].head_s, *gates[1].head_s)};
}

}  // namespace lapwright
