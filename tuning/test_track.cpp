#include "tuning/test_track.h"

#include <algorithm>

namespace lapwright {
namespace {

/// The first and the last gate that engines pass.
struct Reach {
  double lowest_mm;
  double highest_mm;
};

Reach reach_of(const TestTrack& track) {
  Reach reach{track.length_mm, 0};
  for (const Gate& gate : track.gates) {
    if (gate.guards_end) continue;
    reach.lowest_mm = std::min(reach.lowest_mm, gate.position_mm);
    reach.highest_mm = std::max(reach.highest_mm, gate.position_mm);
  }
  return reach;
}

}  // namespace

double clear_from_mm(const TestTrack& track) {
  const Reach reach = reach_of(track);
  double from_mm = 0;
  for (const Gate& gate : track.gates) {
    if (gate.guards_end && gate.position_mm < reach.lowest_mm) from_mm = std::max(from_mm, gate.position_mm);
  }
  return from_mm;
}

double clear_to_mm(const TestTrack& track) {
  const Reach reach = reach_of(track);
  double to_mm = track.length_mm;
  for (const Gate& gate : track.gates) {
    if (gate.guards_end && gate.position_mm > reach.highest_mm) to_mm = std::min(to_mm, gate.position_mm);
  }
  return to_mm;
}

int next_gate(const TestTrack& track, int gate, int way) {
  const auto ahead_mm = [&](int other) {
    const double apart_mm = way * (track.gates[static_cast<std::size_t>(other)].position_mm -
                                   track.gates[static_cast<std::size_t>(gate)].position_mm);
    return apart_mm > 0 ? apart_mm : apart_mm + track.length_mm;
  };
  int next = gate;
  for (int other = 0; other < static_cast<int>(track.gates.size()); ++other) {
    if (ahead_mm(other) < ahead_mm(next)) next = other;
  }
  return next;
}

const Gate* misplaced_guard(const TestTrack& track) {
  const Reach reach = reach_of(track);
  for (const Gate& gate : track.gates) {
    if (gate.guards_end && gate.position_mm >= reach.lowest_mm && gate.position_mm <= reach.highest_mm) return &gate;
  }
  return nullptr;
}

}  // namespace lapwright
