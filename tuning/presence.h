// Whether the engine on the track answers to its address, shown without writing anything: a short move to the first
// gate.
#pragma once

#include <boost/asio/awaitable.hpp>

#include "tuning/rig.h"
#include "tuning/test_track.h"

namespace lapwright {

/// Drives forward, step by step faster, until a gate sees the engine, halts it and brings it back before that gate.
/// False: no gate saw it. What its table and momentum are is not known: the steps rise slowly.
boost::asio::awaitable<bool> seen_to_move(Rig& rig, Clock& clock, const TestTrack& track, StepMode mode);

}  // namespace lapwright
