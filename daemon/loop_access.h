// How engines come onto the loop and leave it: by a person's hands, or from staging tracks and back.
#pragma once

#include <optional>

#include "daemon/engine_turn.h"
#include "daemon/shift.h"

namespace lapwright {

/// It is the first in the queue, and nobody has paused or ended the shift.
[[nodiscard]] bool its_turn(const QueueEntry& entry, const ShiftMeans& means);

/// A person has looked and cleared: whoever has a staging track is back on it.
void all_are_put_back(const Shift& shift, ShiftMeans means);

/// @returns what a person has to do first, because one was under way between the loop and its staging track when
/// everything ended; empty: none was
[[nodiscard]] std::string somebody_is_on_the_way(const ShiftMeans& means);

/// Until the engine of that entry, which comes by hand, stands on the track, before the first gate of a shuttle. False:
/// its turn is over, or the shift
boost::asio::awaitable<bool> comes_by_hand(const QueueEntry& entry, const Job& job, ShiftMeans means);

/// The engine of the job comes out of its staging track, once the loop is free. @param with  the job's own
/// @returns what became of it where it does not stand on the loop now; in `outcome` where that ends the shift
boost::asio::awaitable<std::optional<JobResult>> comes_out(const Shift& shift, const QueueEntry& entry, const Job& job,
                                                           TurnMeans with, ShiftMeans means, ShiftResult& outcome);

/// Whoever stands on the loop and has a staging track goes home, as far as hours and the stop button allow. What goes
/// wrong ends the shift, by `outcome`.
boost::asio::awaitable<void> clear_the_loop(const Shift& shift, ShiftMeans means, ShiftResult& outcome);

}  // namespace lapwright
