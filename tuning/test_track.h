// The test track as it is described to the tuner: its shape and its gates, with what is not known of them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "tuning/throttle.h"

namespace lapwright {

/// A loop lets the engine circulate; a shuttle is a straight track with two ends.
enum class TrackShape : std::uint8_t { loop, shuttle };

/// A beam or reflex sensor across the rails.
struct Gate {
  std::string name;
  double position_mm = 0;          ///< along the track in forward running, 0 … length_mm
  double position_error_mm = 0.2;  ///< standard uncertainty of the position
  bool guards_end = false;         ///< of a shuttle: no engine ever comes so far; it times nothing
};

/// A dead end beside the loop in which one engine stands.
struct StagingTrack {
  double to_buffer_mm = 0;             ///< from the clear gate
  Direction out = Direction::forward;  ///< the engine's own, out of it
};

/// Dead ends in which engines stand until their turn; turnouts lead there from one place of a loop.
struct Staging {
  int clear_gate = 0;                ///< index of the gate that sees an engine come out, clear of all turnouts
  int out_way = 1;                   ///< along the loop, +1 or -1
  std::vector<StagingTrack> tracks;  ///< route k leads to the k-th, from 1
};

/// One track with gates. Forward running increases the position; on a loop positions wrap at length_mm.
struct TestTrack {
  TrackShape shape = TrackShape::loop;
  double length_mm = 0;  ///< of the loop, or between the buffers of a shuttle
  std::vector<Gate> gates;
  double stamp_error_s = 0.00005;  ///< standard uncertainty of one time stamp
  double quiet_s = 0.02;           ///< edges of one gate closer than this belong to one change of the beam (bounce)
  std::optional<Staging> staging = {};
};

/// The part of a shuttle that engines may be in: from its buffers, or from the gates that guard them, which lie beyond
/// all others.
[[nodiscard]] double clear_from_mm(const TestTrack& track);
[[nodiscard]] double clear_to_mm(const TestTrack& track);
/// On a loop: the next gate after `gate` that way along it; `gate` itself where there is no other.
[[nodiscard]] int next_gate(const TestTrack& track, int gate, int way);
/// One that guards an end and does not lie there; null: there is none.
[[nodiscard]] const Gate* misplaced_guard(const TestTrack& track);

}  // namespace lapwright
