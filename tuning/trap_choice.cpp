#include "tuning/trap_choice.h"

#include <cmath>
#include <cstdio>
#include <stdexcept>

namespace lapwright {
namespace {

int gate_by_name(const TestTrack& track, const std::string& name) {
  std::string names;
  for (std::size_t i = 0; i < track.gates.size(); ++i) {
    if (track.gates[i].name == name) return static_cast<int>(i);
    names += (i == 0 ? "\"" : ", \"") + track.gates[i].name + "\"";
  }
  throw std::invalid_argument("the track has no gate \"" + name + "\"; its gates are " + names);
}

const Gate& gate_at(const TestTrack& track, int place) { return track.gates[static_cast<std::size_t>(place)]; }

/// Two gates as a trap; the base is 0 or less where the high gate is not beyond the low one.
Trap between(const TestTrack& track, int low, int high) {
  Trap trap;
  trap.low_gate = low;
  trap.high_gate = high;
  trap.base_mm = gate_at(track, high).position_mm - gate_at(track, low).position_mm;
  if (track.shape == TrackShape::loop && trap.base_mm < 0) trap.base_mm += track.length_mm;
  trap.base_error_mm = std::hypot(gate_at(track, low).position_error_mm, gate_at(track, high).position_error_mm);
  return trap;
}

Trap lap(const TestTrack& track, const TrapWish& wish) {
  if (track.shape == TrackShape::shuttle) {
    throw std::invalid_argument("a shuttle has no laps; let the sheet say \"speed_over\": \"trap\"");
  }
  const int gate = wish.low_gate.empty() ? 0 : gate_by_name(track, wish.low_gate);
  return Trap{gate, gate, track.length_mm, wish.length_error_mm};
}

Trap wished(const TestTrack& track, const TrapWish& wish) {
  const int low = gate_by_name(track, wish.low_gate);
  const int high = gate_by_name(track, wish.high_gate);
  for (const int gate : {low, high}) {
    if (!gate_at(track, gate).guards_end) continue;
    throw std::invalid_argument("gate \"" + gate_at(track, gate).name +
                                "\" guards an end of the track, where no engine is to come; name others for the trap");
  }
  const Trap trap = between(track, low, high);
  if (low == high || trap.base_mm <= 0) {
    throw std::invalid_argument("gate \"" + wish.high_gate + "\" does not lie beyond gate \"" + wish.low_gate +
                                "\" in forward running; name two gates, the one that is met first in front");
  }
  return trap;
}

}  // namespace

Trap choose_trap(const TestTrack& track, SpeedOver over, const TrapWish& wish) {
  if (track.gates.empty()) throw std::invalid_argument("the track has no gate; describe at least one");
  if (over == SpeedOver::lap) return lap(track, wish);
  if (!wish.low_gate.empty()) return wished(track, wish);
  std::optional<Trap> best;
  const int gates = static_cast<int>(track.gates.size());
  for (int low = 0; low < gates; ++low) {
    for (int high = 0; high < gates; ++high) {
      const Trap trap = between(track, low, high);
      if (gate_at(track, low).guards_end || gate_at(track, high).guards_end) continue;
      if (low == high || trap.base_mm <= 0 || trap.base_mm > wish.longest_share * track.length_mm) continue;
      if (!best || trap.base_mm > best->base_mm) best = trap;
    }
  }
  if (best) return *best;
  if (gates < 2) {
    throw std::invalid_argument(
        "a trap needs two gates and the track has one; let the sheet say \"speed_over\": \"lap\", or add a gate");
  }
  throw std::invalid_argument("no two gates lie within " + std::to_string(std::lround(100 * wish.longest_share)) +
                              " % of the track; name the gates of the trap, or move them closer");
}

std::string describe(const TestTrack& track, const Trap& trap) {
  char size[80];
  std::snprintf(size, sizeof size, "%.1f mm ±%.1f mm", trap.base_mm, trap.base_error_mm);
  if (trap.times_laps()) {
    return "over the whole lap from gate " + gate_at(track, trap.low_gate).name + ", " + size;
  }
  return "over the trap " + gate_at(track, trap.low_gate).name + " - " + gate_at(track, trap.high_gate).name + ", " +
         size;
}

}  // namespace lapwright
