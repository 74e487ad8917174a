#include "drivers/safety/motion_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

double top_of(const MotionLimits& limits) {
  if (limits.sheet_top_mm_s <= 0) return limits.fastest_mm_s;
  return std::min(limits.fastest_mm_s, limits.overspeed_share * limits.sheet_top_mm_s);
}

}  // namespace

MotionWatch::MotionWatch(MotionLimits limits)
    : limits_(std::move(limits)),
      gates_(limits_.track.gates.size(), limits_.track.quiet_s),
      travel_(limits_.track, top_of(limits_), limits_.fastest_mm_s),
      ends_(limits_.track, limits_.braking, limits_.earlier_mm_s),
      staging_(limits_.track, limits_.braking, limits_.fastest_mm_s),
      stall_(limits_.stall) {}

double MotionWatch::top_mm_s() const { return top_of(limits_); }

std::optional<double> MotionWatch::longest_wait_s() const {
  if (limits_.sheet_slowest_mm_s <= 0 || gates_.none()) return std::nullopt;
  return limits_.patience_s + limits_.patience_share * limits_.track.length_mm / limits_.sheet_slowest_mm_s;
}

const std::string& MotionWatch::name(int gate) const {
  return limits_.track.gates[static_cast<std::size_t>(gate)].name;
}

std::string MotionWatch::commanded() const {
  if (!running_) return standing_since_ ? "to stand" : "nothing yet";
  return "step " + std::to_string(running_->step) +
         (running_->direction == Direction::forward ? " forward" : " in reverse");
}

std::string MotionWatch::place() const {
  if (!last_gate_) return "before any gate saw it";
  const bool pair = limits_.track.gates.size() == 2 && limits_.track.shape == TrackShape::loop;
  const int way = pair ? 1 : travel_.way();  // between two gates it is either way round
  const int next = way == 0 ? *last_gate_ : travel_.next_gate(*last_gate_, way);
  if (next == *last_gate_) return "after gate " + name(*last_gate_);
  return "between gate " + name(*last_gate_) + " and gate " + name(next);
}

void MotionWatch::drive(Instant now, ThrottleCommand command) {
  if (command.step == 0) return stand(now);
  if (!running_) waiting_since_ = now - waited_;
  if (!running_ || running_->direction != command.direction) {
    gates_.turned();
    turned_at_ = now;
  }
  travel_.commanded(command);
  ends_.commanded(now, command);
  staging_.commanded(now, command);
  stall_.commanded(command.step);
  running_ = command;
  standing_since_.reset();
}

/// An engine that is stopped and started over and over without a passage in between is as lost as one that runs.
void MotionWatch::stand(Instant now) {
  if (running_) waited_ = now - waiting_since_;
  running_.reset();
  travel_.stand();
  ends_.stand(now);
  staging_.stand(now);
  stall_.commanded(0);
  if (!standing_since_) standing_since_ = now;
}

std::optional<Stop> MotionWatch::edge(const GateEdge& edge) {
  const std::optional<GatePassage> found = gates_.edge(edge);
  return found ? passage(*found) : std::nullopt;
}

std::optional<Stop> MotionWatch::current(Instant now, double current_mA) {
  if (!stall_.feed(now, current_mA)) return std::nullopt;
  return Stop{StopReason::stalled, "the engine is stalled " + place() + ": it draws " + whole(stall_.mean_mA()) +
                                       " mA and drew " + whole(stall_.usual_mA()) +
                                       " mA at most while it ran. Look whether it is off the rails or its wheels are "
                                       "blocked, and let its motor cool"};
}

std::optional<Stop> MotionWatch::look(Instant now) {
  while (const std::optional<GatePassage> due = gates_.due(now)) {
    if (auto found = passage(*due)) return found;
  }
  if (auto found = ends_.look(now)) return found;
  if (auto found = staging_.look(now)) return found;
  const std::optional<double> longest_s = longest_wait_s();
  if (!running_ || !longest_s || now - waiting_since_ < seconds(*longest_s)) return std::nullopt;
  return Stop{StopReason::no_passage,
              "no gate saw the engine for " + whole(*longest_s) + " s though it was commanded to run; it was " +
                  place() +
                  ". Look whether it is stalled, off the rails or off the layout, and whether the gates "
                  "still see it"};
}

std::optional<Stop> MotionWatch::passage(const GatePassage& passage) {
  const Instant at = passage.edge.heard;
  waiting_since_ = std::max(waiting_since_, at);
  waited_ = {};
  last_gate_ = passage.gate;
  if (limits_.track.gates[static_cast<std::size_t>(passage.gate)].guards_end && (running_ || standing_since_)) {
    return Stop{StopReason::end_of_track, "gate " + name(passage.gate) +
                                              ", which guards an end of the track, saw the " +
                                              "engine while it was commanded " + commanded() +
                                              ". Put it back between the gates of the trap; look whether its direction "
                                              "and the other gates are right"};
  }
  if (standing_since_) return passage_at_rest(passage);
  if (!running_) return std::nullopt;
  stall_.passage();
  if (stall_.reads_nothing()) {
    return Stop{StopReason::no_sensor,
                "gate " + name(passage.gate) + " saw the engine run, and the current sensor reads " +
                    whole(stall_.mean_mA()) + " mA: it is out of order, or not in this track's feed"};
  }
  if (!passage.fresh || at <= turned_at_) return std::nullopt;
  const bool from_a_turn = in_a_turn_;
  in_a_turn_ = at <= turned_at_ + seconds(limits_.braking.reaction_s);  // it may still have gone the old way
  if (auto found = travel_.passage(passage)) return found;
  if (auto found = staging_.passage(passage)) return found;
  return ends_.passage(passage, travel_.way(), {travel_.speed_mm_s(), travel_.mean_mm_s(), from_a_turn});
}

std::optional<Stop> MotionWatch::passage_at_rest(const GatePassage& passage) const {
  const Duration after = passage.edge.heard - *standing_since_;
  if (passage.flickers || after < seconds(limits_.coast_s)) return std::nullopt;
  return Stop{
      StopReason::moved_at_rest,
      "gate " + name(passage.gate) + " saw the engine " + whole(in_seconds(after)) +
          " s after it was commanded to stand. Look whether another engine or a hand passed, or the engine runs "
          "without being asked"};
}

}  // namespace lapwright
