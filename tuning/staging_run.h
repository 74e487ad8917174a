// Out of a staging track onto the loop, and home again: by gates, and by speeds that gates have shown on the way.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <string>

#include "tuning/rig.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Where one engine stands between its turns, and what a moderate step of it is.
struct StagingPlace {
  int route = 1;               ///< that leads there
  double stop_short_mm = 150;  ///< of its buffers
  StepMode mode = StepMode::steps28;
  int step = 1;             ///< about at which it is to go home
  double speed_mm_s = 100;  ///< about that of this step, if its decoder were tuned
};

enum class Arrival : std::uint8_t {
  there,
  never_left,  ///< it drew no more current than while it stood: it stands where it stood
  astray,      ///< the turnouts did not lead it where they should
  lost,        ///< nobody knows where it is
};

struct StagingRun {
  Arrival arrival = Arrival::lost;
  std::string what;  ///< what happened, and what to do; empty where it is there
};

/// Sets the turnouts, drives it out until the clear gate has seen all of it, and closes the loop behind it. The engine
/// stands then. Both @throw RigFault.
boost::asio::awaitable<StagingRun> come_out(Rig& rig, Clock& clock, const TestTrack& track, StagingPlace place);

/// From anywhere on the loop, however its decoder is set: two laps tell its speed at the step, then it runs out of the
/// clear gate, the turnouts are set behind it, and it runs in by its speed. The loop is closed again.
boost::asio::awaitable<StagingRun> go_home(Rig& rig, Clock& clock, const TestTrack& track, StagingPlace place);

}  // namespace lapwright
