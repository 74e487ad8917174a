#include "drivers/safety/track_end_watch.h"

#include <algorithm>
#include <cmath>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr double unlikely = 1.6;  // times the last speed at the same step: an edge was missed, or it stuck on the way
constexpr double spare = 1.1;
constexpr double more_spare = 1.25;    // of a step not seen yet, or of an engine that has warmed on its way out …
constexpr double warm_s = 60;          // … for so long
constexpr double still_gathering = 2;  // times the mean between the gates: the step was raised on the way

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

/// A step that was not seen yet is no faster than it was earlier, nor than any higher one that was seen.
double TrackEndWatch::fastest_mm_s(Instant now) const {
  if (seen_mm_s_.empty() && earlier_mm_s_.empty()) return rough_mm_s_;
  const std::pair notch(command_->step, command_->direction);
  if (const auto found = seen_mm_s_.find(notch); found != seen_mm_s_.end()) {
    const double warmed = std::min(in_seconds(now - outward_since_) / warm_s, 1.0);
    return std::lerp(spare, more_spare, warmed) * found->second;
  }
  if (const auto found = earlier_mm_s_.find(notch); found != earlier_mm_s_.end()) return more_spare * found->second;
  double fastest = 0;
  std::optional<double> higher;
  for (const ShownSpeeds* const known : {&seen_mm_s_, &earlier_mm_s_}) {
    for (const auto& [other, speed_mm_s] : *known) {
      fastest = std::max(fastest, speed_mm_s);
      if (other.first >= command_->step) higher = std::min(speed_mm_s, higher.value_or(speed_mm_s));
    }
  }
  return more_spare * higher.value_or(fastest);
}

/// An unlikely speed is believed when the next one agrees, and one from a turn if it is likely.
void TrackEndWatch::learn(const LegSpeeds& leg) {
  if (leg.mean_mm_s && !leg.from_a_turn) rough_mm_s_ = still_gathering * *leg.mean_mm_s;
  if (!leg.steady_mm_s) return;
  const double speed_mm_s = *leg.steady_mm_s;
  const std::pair notch(command_->step, command_->direction);
  const auto agrees = [&](const ShownSpeeds& with) {
    const auto other = with.find(notch);
    return other != with.end() && std::max(speed_mm_s, other->second) < unlikely * std::min(speed_mm_s, other->second);
  };
  const bool likely = agrees(seen_mm_s_);
  if (leg.from_a_turn && !likely) return;
  if (seen_mm_s_.contains(notch) && !likely && !agrees(doubted_mm_s_)) {
    doubted_mm_s_[notch] = speed_mm_s;
    return;
  }
  seen_mm_s_[notch] = speed_mm_s;
  doubted_mm_s_.erase(notch);
}

/// What an engine runs back is not counted: only a gate tells that it is back.
void TrackEndWatch::reckon(Instant now) {
  if (outward_ && command_ && command_->direction == out_direction_) {
    left_mm_ -= fastest_mm_s(now) * in_seconds(now - reckoned_at_);
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

std::optional<Stop> TrackEndWatch::passage(const GatePassage& latest, int way, const LegSpeeds& leg) {
  if (track_.shape != TrackShape::shuttle) return std::nullopt;
  learn(leg);
  outward_ = way != 0 && outermost(latest.gate, way);
  out_direction_ = command_->direction;
  if (outward_) left_mm_ = room_mm(latest.gate, way);
  reckoned_at_ = outward_since_ = latest.edge.heard;
  return look(latest.edge.heard);
}

std::optional<Stop> TrackEndWatch::look(Instant now) {
  reckon(now);
  if (!outward_ || !command_ || command_->direction != out_direction_) return std::nullopt;
  const double speed_mm_s = fastest_mm_s(now);
  const double to_stop_mm = speed_mm_s * limits_.reaction_s + speed_mm_s * speed_mm_s / (2 * limits_.braking_mm_s2);
  if (left_mm_ >= to_stop_mm) return std::nullopt;
  return Stop{StopReason::end_of_track, "the engine may be " + whole(std::max(left_mm_, 0.0)) +
                                            " mm from the end of the track at " + whole(speed_mm_s) +
                                            " mm/s, and needs " + whole(to_stop_mm) +
                                            " mm to stop. Move the gates towards the middle, or ask for less speed"};
}

}  // namespace lapwright
