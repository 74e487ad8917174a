#include "drivers/safety/gate_watch.h"

namespace lapwright {
namespace {

/// A beam that an engine stands in flickers; one that was clear for so long and is interrupted then is passed.
constexpr Duration rested = std::chrono::seconds(1);

}  // namespace

std::optional<GatePassage> GateWatch::edge(const GateEdge& edge) {
  if (edge.gate < 0 || static_cast<std::size_t>(edge.gate) >= beams_.size()) return std::nullopt;
  Beam& beam = beams_[static_cast<std::size_t>(edge.gate)];
  if (edge.blocked == beam.blocked) return std::nullopt;  // the change before it was missed, or this one is doubled
  beam.blocked = edge.blocked;
  if (edge.blocked) {
    const bool seen_before = beam.clear_since.has_value();
    const Duration gap = seen_before ? edge.heard - *beam.clear_since : Duration{};
    const bool fresh = !seen_before || beam.turned || gap > beam.before;
    beam.pending = GatePassage{edge.gate, edge, seen_before && gap < rested, fresh};
    beam.blocked_since = edge.heard;
    return std::nullopt;
  }
  const std::optional<GatePassage> pending = beam.pending;
  beam.pending.reset();
  if (pending && since_s(pending->edge, edge) < quiet_s_) return std::nullopt;  // as if it had not been
  beam.clear_since = edge.heard;
  beam.turned = false;
  beam.before = edge.heard - beam.blocked_since;
  return pending;
}

void GateWatch::turned() {
  for (Beam& beam : beams_) beam.turned = !beam.blocked;
}

std::optional<GatePassage> GateWatch::due(Instant now) {
  for (Beam& beam : beams_) {
    if (!beam.pending || now - beam.pending->edge.heard < seconds(quiet_s_)) continue;
    const GatePassage passage = *beam.pending;
    beam.pending.reset();
    return passage;
  }
  return std::nullopt;
}

}  // namespace lapwright
