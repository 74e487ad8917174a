#include "drivers/safety/travel_watch.h"

#include <algorithm>
#include <cmath>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr std::size_t lap = 3;      // passages: a gate, another one, and the first again
constexpr double alike = 1.5;       // speeds at one step, at most, as a ratio
constexpr int unlucky = 2;          // times in a row that openings and missed edges may look like what is wrong
constexpr double beyond_doubt = 3;  // times the fastest speed
constexpr std::size_t strikes = 3;
constexpr Duration strikes_within = std::chrono::minutes(1);

}  // namespace

TravelWatch::TravelWatch(const TestTrack& track, double top_mm_s, double fastest_mm_s)
    : track_(track), top_mm_s_(top_mm_s), fastest_mm_s_(fastest_mm_s) {}

void TravelWatch::commanded(const ThrottleCommand& command) {
  if (command_ && command_->direction == command.direction && command_->step == command.step) return;
  if (!command_ || command_->direction != command.direction) run_.clear();
  command_ = command;
  steady_ = false;
}

void TravelWatch::stand() {
  command_.reset();
  run_.clear();
}

const std::string& TravelWatch::name(const Seen& seen) const {
  return track_.gates[static_cast<std::size_t>(seen.passage.gate)].name;
}

double TravelWatch::ahead_mm(int from, int to, int way) const {
  const double distance_mm = way * (track_.gates[static_cast<std::size_t>(to)].position_mm -
                                    track_.gates[static_cast<std::size_t>(from)].position_mm);
  if (track_.shape == TrackShape::shuttle || distance_mm > 0) return distance_mm;
  return distance_mm + track_.length_mm;
}

std::vector<double> TravelWatch::speeds(int way) const {
  std::vector<double> result;
  for (std::size_t k = 1; k < run_.size(); ++k) {
    const double way_mm = ahead_mm(run_[k - 1].passage.gate, run_[k].passage.gate, way);
    if (way_mm <= 0) return {};
    result.push_back(way_mm / std::max(since_s(run_[k - 1].passage.edge, run_[k].passage.edge), 1e-6));
  }
  return result;
}

/// At one step the engine goes about as fast everywhere. Gathering speed with momentum it does not, and round the other
/// way the long ways between the same gates can look even: too fast a way counts only where the other one is, too.
bool TravelWatch::fits(int way) const {
  const std::vector<double> all = speeds(way);
  if (all.empty()) return false;
  const auto [slowest, fastest] = std::minmax_element(all.begin(), all.end());
  if (*fastest > alike * *slowest) return false;
  const std::vector<double> others = speeds(-way);
  return *fastest <= top_mm_s_ || others.empty() || *std::max_element(others.begin(), others.end()) > top_mm_s_;
}

std::optional<Stop> TravelWatch::passage(const GatePassage& latest) {
  if (!run_.empty() && run_.back().passage.edge.epoch != latest.edge.epoch) run_.clear();
  if (!run_.empty() && run_.back().passage.gate == latest.gate) {  // a gate was missed, or there is one only
    if (auto found = look_at_lap(latest)) return found;
    run_.clear();
  } else {
    fast_laps_ = 0;
  }
  run_.push_back({latest, steady_ && !run_.empty()});
  steady_ = true;
  if (run_.size() > lap) run_.erase(run_.begin());
  if (auto found = look_at_order()) return found;
  if (auto found = look_at_facing()) return found;
  return look_at_speed();
}

std::optional<Stop> TravelWatch::look_at_order() {
  if (run_.size() < 2) return std::nullopt;
  const Seen& before = run_[run_.size() - 2];
  const Seen& latest = run_.back();
  const double apart_s = since_s(before.passage.edge, latest.passage.edge);
  double shortest_mm = std::abs(ahead_mm(before.passage.gate, latest.passage.gate, 1));
  if (track_.shape == TrackShape::loop) shortest_mm = std::min(shortest_mm, track_.length_mm - shortest_mm);
  if (apart_s * beyond_doubt * fastest_mm_s_ >= shortest_mm) return std::nullopt;
  impossible_.push_back(latest.passage.edge.heard);
  while (impossible_.back() - impossible_.front() > strikes_within) impossible_.pop_front();
  if (impossible_.size() < strikes) return std::nullopt;
  return Stop{StopReason::gate_order, "gates " + name(before) + " and " + name(latest) + " saw something " +
                                          whole(1000 * apart_s) + " ms apart, " + std::to_string(strikes) +
                                          " times in a minute: no engine is that fast. Look at the gates' wiring and "
                                          "order in the configuration, at light that falls into both, and whether "
                                          "another engine is on the track"};
}

std::optional<Stop> TravelWatch::look_at_facing() {
  const bool loop = track_.shape == TrackShape::loop;
  if (run_.size() < (loop ? lap : 2)) return std::nullopt;
  const auto moved = [](const Seen& seen) { return seen.steady; };
  if (loop && !std::all_of(run_.begin() + 1, run_.end(), moved)) return std::nullopt;
  const bool along = fits(1);
  if (along == fits(-1)) return std::nullopt;  // the gates divide the loop evenly, or an edge is missing
  const int commanded = command_->direction == Direction::forward ? 1 : -1;
  const int facing = (along ? 1 : -1) * commanded;
  if (facing_ == 0) facing_ = facing;
  contradicted_ = facing == facing_ ? 0 : contradicted_ + 1;
  if (contradicted_ <= (loop ? 0 : unlucky)) return std::nullopt;
  return Stop{StopReason::wrong_way,
              std::string("the engine runs ") + (commanded > 0 ? "forward" : "in reverse") + " from gate " +
                  name(run_[run_.size() - 2]) + " to gate " + name(run_.back()) +
                  ", against the way that it faced before. Look at its decoder's direction (CV29 bit 0, CV19 bit 7), "
                  "at the gates' wiring and order in the configuration, and whether somebody turned it round"};
}

std::optional<Stop> TravelWatch::look_at_speed() {
  const bool loop = track_.shape == TrackShape::loop;
  // Twice past the same gate on a loop. Each part of the way must be too fast: an opening that was taken for the
  // engine makes one part too fast, never both.
  if (run_.size() < (loop ? lap : 2) || (loop && run_.front().passage.gate != run_.back().passage.gate)) {
    return std::nullopt;
  }
  double speed_mm_s = 0;
  for (const int way : {1, -1}) {
    if (facing_ != 0 && way != TravelWatch::way()) continue;
    const std::vector<double> all = speeds(way);
    if (!all.empty()) speed_mm_s = std::max(speed_mm_s, *std::min_element(all.begin(), all.end()));
  }
  fast_runs_ = speed_mm_s > top_mm_s_ ? fast_runs_ + 1 : 0;
  if (fast_runs_ <= (loop ? 0 : unlucky)) return std::nullopt;
  return too_fast(speed_mm_s);
}

/// Past one gate only: an engine of several parts may look like several engines, but not lap after lap.
std::optional<Stop> TravelWatch::look_at_lap(const GatePassage& latest) {
  if (track_.shape != TrackShape::loop) return std::nullopt;
  const double speed_mm_s = track_.length_mm / std::max(since_s(run_.back().passage.edge, latest.edge), 1e-6);
  fast_laps_ = speed_mm_s > top_mm_s_ ? fast_laps_ + 1 : 0;
  if (fast_laps_ <= unlucky) return std::nullopt;
  if (speed_mm_s <= beyond_doubt * fastest_mm_s_) return too_fast(speed_mm_s);
  return Stop{StopReason::gate_order, "gate " + name(run_.back()) + " saw something pass " +
                                          std::to_string(fast_laps_ + 1) +
                                          " times within moments: no engine is round so fast. Look at its sensor and "
                                          "wiring, at light that falls into it, and at what may sway in its beam"};
}

Stop TravelWatch::too_fast(double speed_mm_s) const {
  return Stop{StopReason::overspeed, "the engine ran at " + whole(speed_mm_s) + " mm/s, the limit is " +
                                         whole(top_mm_s_) +
                                         " mm/s. Look at its speed table and at what else drives it"};
}

int TravelWatch::way() const {
  if (!command_) return 0;
  if (track_.shape == TrackShape::shuttle && run_.size() > 1) {  // there is one way from gate to gate
    return ahead_mm(run_[run_.size() - 2].passage.gate, run_.back().passage.gate, 1) > 0 ? 1 : -1;
  }
  return command_->direction == Direction::forward ? facing_ : -facing_;
}

int TravelWatch::next_gate(int gate, int way) const {
  int next = gate;
  for (int other = 0; other < static_cast<int>(track_.gates.size()); ++other) {
    const double way_mm = ahead_mm(gate, other, way);
    if (other == gate || way_mm <= 0) continue;
    if (next == gate || way_mm < ahead_mm(gate, next, way)) next = other;
  }
  return next;
}

std::optional<double> TravelWatch::speed_mm_s() const {
  if (run_.empty() || !run_.back().steady) return std::nullopt;
  return mean_mm_s();
}

std::optional<double> TravelWatch::mean_mm_s() const {
  if (way() == 0) return std::nullopt;
  const std::vector<double> all = speeds(way());
  if (all.empty()) return std::nullopt;
  return all.back();
}

}  // namespace lapwright
