#include "drivers/simulated/silhouette.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace lapwright::simulated {

namespace {
constexpr double nowhere_mm = std::numeric_limits<double>::infinity();

double wrapped(double at_mm, double length_mm) { return at_mm - length_mm * std::floor(at_mm / length_mm); }
}  // namespace

Silhouette::Silhouette(const EngineDescription& engine, const Track& track, double position_mm)
    : loop_(track.is_loop()),
      length_mm_(track.length_mm()),
      gates_mm_(track.gates_mm()),
      parts_(engine.opaque_parts()) {
  for (std::size_t gate = 0; gate < gates_mm_.size(); ++gate) {
    for (const OpaquePart& part : parts_) {
      for (const bool front : {true, false}) {
        const double behind_mm = front ? part.from_mm : part.to_mm;
        const double at_mm = gates_mm_[gate] + behind_mm;
        changes_.push_back({loop_ ? wrapped(at_mm, length_mm_) : at_mm, static_cast<int>(gate), front, behind_mm});
      }
    }
  }
  std::ranges::stable_sort(changes_, {}, &BeamChange::at_mm);
  const double place_mm = loop_ ? wrapped(position_mm, length_mm_) : position_mm;
  lap_mm_ = position_mm - place_mm;
  const auto ahead = std::ranges::upper_bound(changes_, place_mm, {}, &BeamChange::at_mm);
  next_ = static_cast<std::size_t>(ahead - changes_.begin());
  look();
}

void Silhouette::look() {
  if (changes_.empty()) {
    ahead_mm_ = nowhere_mm;
    behind_mm_ = -nowhere_mm;
    return;
  }
  if (loop_ && next_ == changes_.size()) {
    next_ = 0;
    lap_mm_ += length_mm_;
  }
  ahead_mm_ = next_ == changes_.size() ? nowhere_mm : changes_[next_].at_mm + lap_mm_;
  if (next_ > 0) {
    behind_mm_ = changes_[next_ - 1].at_mm + lap_mm_;
  } else {
    behind_mm_ = loop_ ? changes_.back().at_mm + lap_mm_ - length_mm_ : -nowhere_mm;
  }
}

void Silhouette::pass_ahead() {
  ++next_;
  look();
}

void Silhouette::pass_behind() {
  if (next_ == 0) {
    next_ = changes_.size();
    lap_mm_ -= length_mm_;
  }
  --next_;
  look();
}

bool Silhouette::blocked(int gate, double position_mm) const {
  double behind_front_mm = position_mm - gates_mm_[static_cast<std::size_t>(gate)];
  if (loop_) behind_front_mm = wrapped(behind_front_mm, length_mm_);
  return std::ranges::any_of(parts_, [behind_front_mm](const OpaquePart& part) {
    return behind_front_mm >= part.from_mm && behind_front_mm < part.to_mm;
  });
}

}  // namespace lapwright::simulated
