// An engine of which nothing is known is started: step by step faster, until a gate sees it.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <deque>
#include <optional>

#include "tuning/edge_filter.h"
#include "tuning/rig.h"

namespace lapwright {

/// How far an engine at the highest of these steps comes until a gate has to have seen it.
struct Creep {
  Direction direction = Direction::forward;
  StepMode mode = StepMode::steps28;
  double way_mm = 0;
};

/// What came of it.
struct Crept {
  std::optional<Passage> seen;    ///< empty: no gate saw it
  int step = 0;                   ///< that is still commanded
  std::optional<double> most_mA;  ///< that the track drew on the way, of a reading now and then
};

/// Drives until a beam is interrupted, and stays so.
boost::asio::awaitable<Crept> creep(Rig& rig, Clock& clock, EdgeFilter& filter, Creep how);

/// The next change of any beam of that kind before the deadline. @param blocked  empty: either
boost::asio::awaitable<std::optional<Passage>> next_change(Rig& rig, EdgeFilter& filter, Instant deadline,
                                                           std::optional<bool> blocked);

/// Reads what the gates tell until then, so that nobody takes it for news afterwards.
boost::asio::awaitable<void> let_pass(Rig& rig, EdgeFilter& filter, Instant until);

/// How long an engine is in a beam at least; what is shorter is a flash, a fly, a coupler.
inline constexpr double in_the_beam_s = 0.1;

/// Waits for so long. False: the beam of `gate`, which has just been interrupted, is clear again. @param others  gets
/// what other gates saw meanwhile
boost::asio::awaitable<bool> stays_in_the_beam(Rig& rig, Clock& clock, EdgeFilter& filter, int gate,
                                               std::deque<Passage>& others);

}  // namespace lapwright
