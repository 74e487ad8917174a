#include "drivers/safety/staging_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr double at_rest_s = 0.5;      // from the command to stand until the wheels do
constexpr double off_the_mean = 1.03;  // a lap's speed is a mean: curves, and friction that wanders

}  // namespace

std::optional<std::string> StagingWatch::refuses(Instant now, int route) const {
  if (!track_.staging) return "no staging tracks are described";
  if (route < 0 || route > static_cast<int>(track_.staging->tracks.size())) {
    return "there is no staging track " + std::to_string(route);
  }
  if (command_) return "the engine is commanded to run, and may be on the turnouts";
  if (standing_since_ && now - *standing_since_ < seconds(at_rest_s)) return "the engine has not come to rest yet";
  return std::nullopt;
}

void StagingWatch::route(int route) {
  route_ = route;
  left_mm_.reset();
}

/// Asked only while the turnouts lead to a track.
bool StagingWatch::homeward() const {
  if (!command_) return false;
  return command_->direction != track_.staging->tracks[static_cast<std::size_t>(route_) - 1].out;
}

void StagingWatch::commanded(Instant now, const ThrottleCommand& command) {
  reckon(now);
  if (command_ != command) forget_laps();
  command_ = command;
  standing_since_.reset();
}

void StagingWatch::stand(Instant now) {
  reckon(now);
  command_.reset();
  forget_laps();
  if (!standing_since_) standing_since_ = now;
}

void StagingWatch::forget_laps() {
  passed_.clear();
  lap_mm_s_.clear();
}

/// What it runs back is not counted: only a gate tells that it is out again.
void StagingWatch::reckon(Instant now) {
  if (left_mm_ && homeward()) *left_mm_ -= speed_mm_s() * in_seconds(now - reckoned_at_);
  reckoned_at_ = now;
}

double StagingWatch::speed_mm_s() const {
  const auto found = seen_mm_s_.find({command_->step, command_->direction});
  return found == seen_mm_s_.end() ? fastest_mm_s_ : off_the_mean * found->second;
}

/// A gate that missed it once makes a lap look slow: the fastest of all gates counts.
void StagingWatch::learn(const GatePassage& latest) {
  const auto [before, first] = passed_.try_emplace(latest.gate, latest.edge);
  if (first) return;
  const bool comparable = before->second.epoch == latest.edge.epoch;
  const double lap_s = since_s(before->second, latest.edge);
  before->second = latest.edge;
  if (!comparable || lap_s * fastest_mm_s_ < track_.length_mm) return;
  lap_mm_s_[latest.gate] = track_.length_mm / lap_s;
  double fastest = 0;
  for (const auto& [gate, speed] : lap_mm_s_) fastest = std::max(fastest, speed);
  seen_mm_s_[{command_->step, command_->direction}] = fastest;
}

std::optional<Stop> StagingWatch::passage(const GatePassage& latest) {
  if (!track_.staging || !command_) return std::nullopt;
  const Staging& staging = *track_.staging;
  if (route_ == 0) {
    learn(latest);
    return std::nullopt;
  }
  if (latest.gate == next_gate(track_, staging.clear_gate, -staging.out_way)) {
    return Stop{StopReason::off_route, "gate " + track_.gates[static_cast<std::size_t>(latest.gate)].name +
                                           " saw the engine on the loop while the turnouts are to lead to staging "
                                           "track " +
                                           std::to_string(route_) +
                                           ": either they did not move, or it came onto them from behind. Look at the "
                                           "turnouts and their decoders, and put the engine back"};
  }
  if (latest.gate != staging.clear_gate || !homeward()) {
    left_mm_.reset();
    return std::nullopt;
  }
  left_mm_ = staging.tracks[static_cast<std::size_t>(route_) - 1].to_buffer_mm - limits_.buffer_margin_mm;
  reckoned_at_ = latest.edge.heard;
  return look(latest.edge.heard);
}

std::optional<Stop> StagingWatch::look(Instant now) {
  reckon(now);
  if (!left_mm_ || !homeward()) return std::nullopt;
  const double speed = speed_mm_s();
  const double to_stop_mm = speed * limits_.reaction_s + speed * speed / (2 * limits_.braking_mm_s2);
  if (*left_mm_ >= to_stop_mm) return std::nullopt;
  return Stop{StopReason::end_of_track, "the engine may be " + whole(std::max(*left_mm_, 0.0)) +
                                            " mm from the buffers of staging track " + std::to_string(route_) + " at " +
                                            whole(speed) + " mm/s, and needs " + whole(to_stop_mm) +
                                            " mm to stop. Look whether it came in faster than it ran on the loop, and "
                                            "at the track's to_buffer_mm"};
}

}  // namespace lapwright
