#include "drivers/simulated/railway_description.h"

#include <algorithm>

namespace lapwright::simulated {

TestTrack as_told(const RailwayDescription& railway) {
  TestTrack track;
  track.shape = railway.shape;
  track.length_mm = railway.length_mm;
  track.gates = railway.gates;
  track.stamp_error_s = railway.board.stamp_error_s;
  track.quiet_s = std::max(0.02, 4 * railway.board.bounce_s);
  for (Gate& gate : track.gates) gate.position_error_mm = railway.board.position_error_mm;
  return track;
}

}  // namespace lapwright::simulated
