#include "tests/schedules/watcher.h"

#include <algorithm>
#include <cmath>

namespace lapwright::schedules {
namespace {

constexpr double still_mm_s = 5;
constexpr double reaction_s = 0.2;  // for an edge to become a passage, two looks, and one of ours
constexpr double fast_laps = 2.5;   // one to the first gate, one over both of them, and a little
constexpr double minute_s = 60;
constexpr double patience_s = 0.2;

}  // namespace

Watcher::Watcher(const Schedule& schedule, const GuardLimits& limits, const simulated::SimulatedRig& rig,
                 const Feed& feed, const FaultyBoard& board, const Asked& asked, const Troubles& troubles)
    : schedule_(schedule),
      limits_(limits),
      rig_(rig),
      feed_(feed),
      board_(board),
      asked_(asked),
      troubles_(troubles),
      slowest_mm_s_(1e9) {
  for (const StepAim& aim : schedule.job.order.aims) {
    if (!aim.prove) continue;
    slowest_mm_s_ = std::min(slowest_mm_s_, aim.speed_mm_s);
    top_mm_s_ = std::max(top_mm_s_, limits.motion.overspeed_share * aim.speed_mm_s);
  }
}

void Watcher::complain(Instant now, const std::string& what, bool& told) {
  if (told) return;
  told = true;
  complaints_.push_back("at " + std::to_string(in_seconds(now - Instant{})) + " s: " + what);
}

/// Edges reach the host as they are, and always did: otherwise it can't know where a beam stands.
bool Watcher::gates_see(Instant now) const {
  for (const Kind kind : {Kind::board_silent, Kind::board_mute, Kind::board_lost, Kind::edges_missed, Kind::gate_dead,
                          Kind::gate_chatters, Kind::host_late, Kind::host_killed}) {
    const Fault* fault = schedule_.has(kind);
    if (fault != nullptr && now - Instant{} >= seconds(fault->at_s)) return false;
  }
  return true;
}

void Watcher::look(Instant now) {
  const double went_mm = std::abs(rig_.engine().speed_mm_s()) * in_seconds(period);
  if (!feed_.live()) {
    resting_mm_ = racing_mm_ = 0;
    return;
  }
  at_rest(now, went_mm);
  too_fast(now, went_mm);
  no_passage(now);
  mean_current(now);
}

void Watcher::at_rest(Instant now, double went_mm) {
  const bool should_stand =
      asked_.stands_since && now - *asked_.stands_since > seconds(limits_.motion.coast_s) && gates_see(now);
  resting_mm_ = should_stand ? resting_mm_ + went_mm : 0;
  const double speed_mm_s = std::abs(rig_.engine().speed_mm_s());
  const double allowed_mm = schedule_.railway.length_mm + schedule_.engine.length_mm + reaction_s * speed_mm_s;
  if (resting_mm_ > allowed_mm && speed_mm_s > still_mm_s) {
    complain(now, "the engine went a lap though it was commanded to stand", told_rest_);
  }
}

void Watcher::too_fast(Instant now, double went_mm) {
  const double speed_mm_s = std::abs(rig_.engine().speed_mm_s());
  const bool one_run = asked_.runs && asked_.changed == run_began_;
  run_began_ = asked_.changed;
  racing_mm_ = one_run && speed_mm_s > 1.05 * top_mm_s_ && gates_see(now) ? racing_mm_ + went_mm : 0;
  if (racing_mm_ > fast_laps * schedule_.railway.length_mm) {
    complain(now, "the engine went " + std::to_string(fast_laps) + " laps at " + std::to_string(speed_mm_s) + " mm/s",
             told_fast_);
  }
}

void Watcher::no_passage(Instant now) {
  if (!asked_.runs || troubles_.on(Kind::host_late) || troubles_.on(Kind::host_killed)) return;
  const Instant since = std::max(asked_.runs_since, board_.last_edge());
  const double longest_s =
      limits_.motion.patience_s + limits_.motion.patience_share * schedule_.railway.length_mm / slowest_mm_s_;
  if (now - since > seconds(longest_s + patience_s)) {
    complain(now, "no edge for " + std::to_string(longest_s) + " s though it was commanded to run", told_passage_);
  }
}

/// Time without a reading of the host's counts as without current.
void Watcher::mean_current(Instant now) {
  if (troubles_.on(Kind::host_late) || troubles_.on(Kind::host_killed)) return;
  const std::optional<double> read = board_.current_mA();
  minute_.push_back({now, read.value_or(0) * in_seconds(period)});
  charge_mAs_ += minute_.back().charge_mAs;
  while (now - minute_.front().at > seconds(minute_s)) {
    charge_mAs_ -= minute_.front().charge_mAs;
    minute_.pop_front();
  }
  const double mean_mA = charge_mAs_ / minute_s;
  const double most_mA = limits_.current.mean_mA * 1.01;
  if (mean_mA > most_mA) complain(now, "the track drew " + std::to_string(mean_mA) + " mA for a minute", told_mean_);
}

}  // namespace lapwright::schedules
