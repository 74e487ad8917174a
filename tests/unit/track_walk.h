// An engine of opaque parts that moves along a track at given speeds, millisecond by millisecond: the edges that its
// gates would tell. For tests of the rules about motion; it shares nothing with the simulated railway.
#pragma once

#include <cmath>
#include <cstdint>
#include <functional>
#include <utility>
#include <vector>

#include "tuning/rig.h"
#include "tuning/test_track.h"

namespace lapwright {

struct TrackWalk {
  TestTrack track;
  std::vector<std::pair<double, double>> parts = {{0, 120}};  ///< mm behind the forward end, from and to
  double front_mm = 0;                                        ///< place of the forward end along the track
  double now_s = 1;
  std::vector<bool> blocked = {};
  std::function<void(const GateEdge&)> edge = {};
  std::function<void(Instant)> tick = {};  ///< every 10 ms

  [[nodiscard]] Instant now() const { return Instant{} + seconds(now_s); }

  /// @param mm_s  along the track where positive, for a forward end that leads along the track
  void go(double mm_s, double length_s) {
    const double end_s = now_s + length_s;
    for (int ms = 0; now_s < end_s; ++ms, now_s += 0.001) {
      front_mm += mm_s * 0.001;
      look();
      if (ms % 10 == 0 && tick) tick(now());
    }
  }

 private:
  [[nodiscard]] bool covers(double gate_mm) const {
    for (const auto& [from, to] : parts) {
      double behind = front_mm - gate_mm;
      if (track.shape == TrackShape::loop) behind -= std::floor(behind / track.length_mm) * track.length_mm;
      if (behind >= from && behind < to) return true;
    }
    return false;
  }
  void look() {
    blocked.resize(track.gates.size());
    for (std::size_t gate = 0; gate < track.gates.size(); ++gate) {
      const bool covered = covers(track.gates[gate].position_mm);
      if (covered == blocked[gate]) continue;
      blocked[gate] = covered;
      const auto counter_us = static_cast<std::uint32_t>(static_cast<std::uint64_t>(now_s * 1e6));
      if (edge) edge(GateEdge{static_cast<int>(gate), covered, counter_us, 1, now()});
    }
  }
};

}  // namespace lapwright
