#include "drivers/simulated/yard.h"

#include <algorithm>
#include <cmath>

namespace lapwright::simulated {
namespace {

constexpr double unbounded_mm = std::numeric_limits<double>::infinity();

}  // namespace

Yard::Yard(const YardDescription& description, double loop_mm, double engine_mm)
    : description_(description),
      loop_mm_(loop_mm),
      engine_mm_(engine_mm),
      way_(description.out == Direction::forward ? 1.0 : -1.0),
      joins_mm_(description.joins_mm) {}

double Yard::inner_mm(double position_mm) const {
  return std::min(beyond_mm(position_mm), beyond_mm(position_mm - engine_mm_));
}

double Yard::outer_mm(double position_mm) const {
  return std::max(beyond_mm(position_mm), beyond_mm(position_mm - engine_mm_));
}

double Yard::home_mm(int track) const {
  const double inner_mm = from_buffers_mm - description_.tracks[static_cast<std::size_t>(track) - 1].length_mm;
  return way_ > 0 ? joins_mm_ + inner_mm + engine_mm_ : joins_mm_ - inner_mm;
}

void Yard::set_down(int track) {
  on_track_ = track;
  lap_mm_ = 0;
  latest_mm_ = home_mm(track);
}

bool Yard::is_home(double position_mm) const { return on_track_ > 0 && outer_mm(position_mm) < 0; }

void Yard::set_route(int route) {
  if (jammed_ || route == route_) return;
  route_ = route;
  const double inner = inner_mm(latest_mm_);
  const double outer = outer_mm(latest_mm_);
  const bool across =
      on_track_ > 0 ? inner < 0 && outer >= 0 : std::floor(inner / loop_mm_) != std::floor(outer / loop_mm_);
  derailed_ = derailed_ || across;
}

void Yard::moved(double from_mm, double to_mm) {
  latest_mm_ = to_mm;
  if (on_track_ > 0) {
    if (outer_mm(from_mm) < 0 && outer_mm(to_mm) >= 0 && route_ != on_track_) derailed_ = true;
    if (inner_mm(to_mm) >= 0) on_track_ = 0;
    return;
  }
  const auto lap = [this](double beyond) { return std::floor(beyond / loop_mm_); };
  if (lap(outer_mm(to_mm)) > lap(outer_mm(from_mm)) && route_ != 0) derailed_ = true;  // from behind, onto the blades
  if (lap(inner_mm(to_mm)) < lap(inner_mm(from_mm)) && route_ != 0) {
    lap_mm_ += loop_mm_ * lap(inner_mm(from_mm));
    on_track_ = route_;
  }
}

double Yard::lowest_mm() const {
  if (on_track_ == 0 || way_ < 0) return -unbounded_mm;
  return joins_mm_ + lap_mm_ - description_.tracks[static_cast<std::size_t>(on_track_) - 1].length_mm + engine_mm_;
}

double Yard::highest_mm() const {
  if (on_track_ == 0 || way_ > 0) return unbounded_mm;
  return joins_mm_ - lap_mm_ + description_.tracks[static_cast<std::size_t>(on_track_) - 1].length_mm;
}

}  // namespace lapwright::simulated
