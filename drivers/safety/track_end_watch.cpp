#include "drivers/safety/track_end_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr double unlikely = 1.6;  // times the last speed at the same step: an edge was missed
constexpr double spare = 1.1;
constexpr double still_gathering = 2;  // times the mean between the gates: the step was raised on the way
constexpr double more_spare = 1.25;

}  // namespace

double TrackEndWatch::room_mm(int gate, int way) const {
  const double at_mm = track_.gates[static_cast<std::size_t>(gate)].position_mm;
  return (way > 0 ? clear_to_mm(track_) - at_mm : at_mm - clear_from_mm(track_)) - limits_.buffer_margin_mm;
}

bool TrackEndWatch::outermost(int gate, int way) const {
  const double room = room_mm(gate, way);
  for (std::size_t other = 0; other < track_.gates.size(); ++other) {
    if (!track_.gates[other].guards_end && room_mm(static_cast<int>(other), way) < room) return false;
  }
  return true;
}

/// A step that was not seen yet is no faster than any higher one that was.
double TrackEndWatch::fastest_mm_s() const {
  if (seen_mm_s_.empty()) return rough_mm_s_;
  const auto found = seen_mm_s_.find({command_->step, command_->direction});
  if (found != seen_mm_s_.end()) return spare * found->second;
  double fastest = 0;
  std::optional<double> higher;
  for (const auto& [notch, speed_mm_s] : seen_mm_s_) {
    fastest = std::max(fastest, speed_mm_s);
    if (notch.first >= command_->step) higher = std::min(speed_mm_s, higher.value_or(speed_mm_s));
  }
  return more_spare * higher.value_or(fastest);
}

/// What an engine runs back is not counted: only a gate tells that it is back.
void TrackEndWatch::reckon(Instant now) {
  if (outward_ && command_ && command_->direction == out_direction_) {
    left_mm_ -= fastest_mm_s() * in_seconds(now - reckoned_at_);
  }
  reckoned_at_ = now;
}

void TrackEndWatch::commanded(Instant now, const ThrottleCommand& command) {
  reckon(now);
  command_ = command;
}

void TrackEndWatch::stand(Instant now) {
  reckon(now);
  command_.reset();
}

std::optional<Stop> TrackEndWatch::passage(const GatePassage& latest, int way, std::optional<double> speed_mm_s,
                                           std::optional<double> mean_mm_s) {
  if (track_.shape != TrackShape::shuttle) return std::nullopt;
  if (mean_mm_s) rough_mm_s_ = still_gathering * *mean_mm_s;
  if (speed_mm_s) {
    const Notch notch{command_->step, command_->direction};
    const auto known = seen_mm_s_.find(notch);
    if (known == seen_mm_s_.end() || *speed_mm_s < unlikely * known->second) seen_mm_s_[notch] = *speed_mm_s;
  }
  outward_ = way != 0 && outermost(latest.gate, way);
  out_direction_ = command_->direction;
  if (outward_) left_mm_ = room_mm(latest.gate, way);
  reckoned_at_ = latest.edge.heard;
  return look(latest.edge.heard);
}

std::optional<Stop> TrackEndWatch::look(Instant now) {
  reckon(now);
  if (!outward_ || !command_ || command_->direction != out_direction_) return std::nullopt;
  const double speed_mm_s = fastest_mm_s();
  const double to_stop_mm = speed_mm_s * limits_.reaction_s + speed_mm_s * speed_mm_s / (2 * limits_.braking_mm_s2);
  if (left_mm_ >= to_stop_mm) return std::nullopt;
  return Stop{StopReason::end_of_track, "the engine may be " + whole(std::max(left_mm_, 0.0)) +
                                            " mm from the end of the track at " + whole(speed_mm_s) +
                                            " mm/s, and needs " + whole(to_stop_mm) +
                                            " mm to stop. Move the gates towards the middle, or ask for less speed"};
}

}  // namespace lapwright
