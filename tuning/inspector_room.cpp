// How far an engine with momentum goes beyond the trap before it is turned, and how far a shuttle lets it.
#include <algorithm>

#include "tuning/inspector.h"
#include "tuning/pass_reader.h"

namespace lapwright {
namespace {

/// Of its forward end beyond the gate when the gates have seen the last of it: running forward its tail has to leave.
double seen_off_mm(Direction out) { return longest_opening_mm + (out == Direction::forward ? longest_engine_mm : 0.0); }

}  // namespace

bool has_room(const InspectionOrder& order, const StepAim& aim) {
  if (order.track.shape == TrackShape::loop) return true;
  const double share = static_cast<double>(aim.step) / top_step(order.mode);
  // Half the way of an even speed, both while it brakes and while it gathers speed again.
  const double out_s = settling_s + turn_lag_s + share * (order.momentum.gather_s + order.momentum.brake_s) / 2;
  // Either end may be the far one: it may face either way.
  const double clear_mm = std::min(order.clear_below_mm, order.clear_above_mm);
  return seen_off_mm(Direction::forward) + out_s * aim.speed_mm_s <= clear_mm;
}

double Inspector::run_out_s(const Inspected& cell) const {
  const double wished_s = run_out_s_ + share(cell.aim.step) * order_.momentum.gather_s;
  if (order_.track.shape == TrackShape::loop) return wished_s;
  const Direction out = opposite(cell.direction);
  const bool against = trap_.low_gate != order_.trap.low_gate;
  const bool above = (out == Direction::forward) != against;
  const double clear_mm = (above ? order_.clear_above_mm : order_.clear_below_mm) - seen_off_mm(out);
  const double braking_s = turn_lag_s + share(cell.aim.step) * order_.momentum.brake_s / 2;
  return std::clamp(clear_mm / cell.aim.speed_mm_s - braking_s, 0.0, wished_s);
}

}  // namespace lapwright
