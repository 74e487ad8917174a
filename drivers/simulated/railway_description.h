// A simulated railway as a person describes it: the test track, its gates with their faults, and its supply.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tuning/test_track.h"

namespace lapwright::simulated {

/// Track that drags more than straight level track does.
struct Stretch {
  double from_mm = 0;
  double to_mm = 0;
  double drag = 0;  ///< additional friction as a share of the engine's running friction
};

/// The trackside board and its beams, and what goes wrong with them.
struct BoardDescription {
  double position_error_mm = 0.2;  ///< standard deviation of a gate's true place about the nominal one
  double stamp_error_s = 0.00005;  ///< standard deviation of one time stamp
  double bounce = 0.3;             ///< probability that a change of a beam bounces
  double bounce_s = 0.003;         ///< within which time
  double miss = 0;                 ///< probability that an edge vanishes
  double twin = 0;                 ///< probability that an edge is doubled: a spurious pair 30 … 80 ms apart from it
};

/// A dead end beside the loop.
struct YardTrack {
  double length_mm = 0;  ///< from the turnout to the buffers
  std::string engine;    ///< whose place it is: its name
};

/// Staging tracks that leave a loop at one place.
struct YardDescription {
  double joins_mm = 0;                 ///< where, along the loop
  Direction out = Direction::forward;  ///< the way along the loop that leads out of them
  std::vector<YardTrack> tracks;       ///< track k is reached by route k
};

struct RailwayDescription {
  std::string name = "Test loop";
  TrackShape shape = TrackShape::loop;
  double length_mm = 6000;
  std::vector<Gate> gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
  BoardDescription board;
  std::optional<double> track_volts;    ///< empty: what the engine is described for, so that any scale may run
  std::optional<double> start_mm = {};  ///< where the engine's forward end is set down; empty: anywhere, by the seed
  double roughness = 0.06;              ///< random unevenness of the track, as a share of running friction
  std::vector<Stretch> curves;          ///< several may overlap; their drags add up
  std::vector<Stretch> bindings;
  std::optional<YardDescription> yard = {};  ///< of a loop
  int start_track = 0;                       ///< of the yard, from 1, where the engine stands at first; 0: on the loop
};

/// What the tuner is told of this railway: nominal positions and their uncertainty.
[[nodiscard]] TestTrack as_told(const RailwayDescription& railway);

}  // namespace lapwright::simulated
