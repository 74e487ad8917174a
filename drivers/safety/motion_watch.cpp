#include "drivers/safety/motion_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

/// A beam that an engine stands in flickers; one that was clear for so long and is interrupted then is passed.
constexpr Duration rested = std::chrono::seconds(1);
constexpr std::size_t lap = 3;  // passages: a gate, another one, and the first again

double since_s(const GateEdge& before, const GateEdge& after) {
  return static_cast<double>(after.counter_us - before.counter_us) * 1e-6;  // wraps as the counter does
}

}  // namespace

MotionWatch::MotionWatch(MotionLimits limits) : limits_(std::move(limits)), beams_(limits_.track.gates.size()) {}

double MotionWatch::top_mm_s() const {
  if (limits_.sheet_top_mm_s <= 0) return limits_.fastest_mm_s;
  return std::min(limits_.fastest_mm_s, limits_.overspeed_share * limits_.sheet_top_mm_s);
}

std::optional<double> MotionWatch::longest_wait_s() const {
  if (limits_.sheet_slowest_mm_s <= 0 || beams_.empty()) return std::nullopt;
  return limits_.patience_s + limits_.patience_share * limits_.track.length_mm / limits_.sheet_slowest_mm_s;
}

const std::string& MotionWatch::name(int gate) const {
  return limits_.track.gates[static_cast<std::size_t>(gate)].name;
}

void MotionWatch::drive(Instant now, ThrottleCommand command) {
  if (command.step == 0) return stand(now);
  if (!running_) waiting_since_ = now;
  if (!running_ || running_->direction != command.direction) run_.clear();
  running_ = command;
  standing_since_.reset();
}

void MotionWatch::stand(Instant now) {
  running_.reset();
  run_.clear();
  if (!standing_since_) standing_since_ = now;
}

std::optional<Stop> MotionWatch::edge(const GateEdge& edge) {
  if (edge.gate < 0 || static_cast<std::size_t>(edge.gate) >= beams_.size()) return std::nullopt;
  Beam& beam = beams_[static_cast<std::size_t>(edge.gate)];
  if (edge.blocked == beam.blocked) return std::nullopt;  // the change before it was missed, or this one is doubled
  beam.blocked = edge.blocked;
  if (edge.blocked) {
    beam.pending = edge.heard;
    beam.edge = edge;
    beam.flickers = beam.clear_since && edge.heard - *beam.clear_since < rested;
    return std::nullopt;
  }
  beam.clear_since = edge.heard;
  const bool long_enough = beam.pending && since_s(beam.edge, edge) >= limits_.track.quiet_s;
  if (!long_enough) beam.pending.reset();
  if (!beam.pending) return std::nullopt;
  beam.pending.reset();
  return passage(edge.gate, beam);
}

std::optional<Stop> MotionWatch::look(Instant now) {
  for (std::size_t gate = 0; gate < beams_.size(); ++gate) {
    Beam& beam = beams_[gate];
    if (!beam.pending || now - *beam.pending < seconds(limits_.track.quiet_s)) continue;
    beam.pending.reset();
    if (auto found = passage(static_cast<int>(gate), beam)) return found;
  }
  const std::optional<double> longest_s = longest_wait_s();
  if (!running_ || !longest_s || now - waiting_since_ < seconds(*longest_s)) return std::nullopt;
  return Stop{StopReason::no_passage,
              "no gate saw the engine for " + whole(*longest_s) +
                  " s though it was commanded to run. Look whether it is stalled, off the rails or off the layout, and "
                  "whether the gates still see it"};
}

std::optional<Stop> MotionWatch::passage(int gate, const Beam& beam) {
  const Instant at = beam.edge.heard;
  waiting_since_ = std::max(waiting_since_, at);
  if (standing_since_) {
    if (beam.flickers || at - *standing_since_ < seconds(limits_.coast_s)) return std::nullopt;
    return Stop{StopReason::moved_at_rest, "gate " + name(gate) + " saw the engine " +
                                               whole(in_seconds(at - *standing_since_)) +
                                               " s after it was commanded to stand. Look whether another engine or a "
                                               "hand passed, or the engine runs without being asked"};
  }
  if (!running_) return std::nullopt;
  const Passage latest{gate, beam.edge};
  if (!run_.empty() && run_.back().gate == gate) return std::nullopt;  // an opening behind its end, or a missed gate
  run_.push_back(latest);
  if (run_.size() > lap) run_.erase(run_.begin());
  return too_fast(latest);
}

/// Once around, over two gates: neither an opening of the engine nor a missed edge makes that much too short.
std::optional<Stop> MotionWatch::too_fast(const Passage& latest) const {
  if (limits_.track.shape != TrackShape::loop || run_.size() < lap) return std::nullopt;
  const Passage& first = run_.front();
  if (first.gate != latest.gate || first.edge.epoch != latest.edge.epoch) return std::nullopt;
  const double speed_mm_s = limits_.track.length_mm / since_s(first.edge, latest.edge);
  if (speed_mm_s <= top_mm_s()) return std::nullopt;
  return Stop{StopReason::overspeed, "the engine ran a lap at " + whole(speed_mm_s) + " mm/s, the limit is " +
                                         whole(top_mm_s()) +
                                         " mm/s. Look at its speed table and at what else drives it"};
}

}  // namespace lapwright
