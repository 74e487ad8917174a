// What the service asked of the rig, whatever became of it: seen from outside, as a witness beside the cables would.
#pragma once

#include <map>
#include <set>

#include "tuning/clock.h"
#include "tuning/throttle.h"

namespace lapwright::schedules {

struct Asked {
  bool runs = false;                         ///< the last command was a step above 0
  Instant runs_since{};                      ///< in whichever direction
  std::optional<Instant> stands_since;       ///< the first command to stand of those that came without another between
  Instant changed{};                         ///< when it last began to stand, to run, or to run the other way
  Direction direction = Direction::forward;  ///< of the last command
  std::optional<Instant> halted;             ///< the first emergency stop that was waited for: the way out begins
  Instant halted_last{};                     ///< and the last one: the rails go dead when it was heard, or soon
  std::map<int, int> writes;                 ///< by CV
  std::set<int> lost_writes;  ///< CVs whose last write met a decoder that could not tell that it missed it

  void drive(Instant now, ThrottleCommand command) {
    if (command.step == 0) return stand(now);
    if (!runs || direction != command.direction) changed = now;
    if (!runs) runs_since = now;
    runs = true;
    direction = command.direction;
    stands_since.reset();
  }
  void stand(Instant now) {
    if (runs) changed = now;
    runs = false;
    if (!stands_since) stands_since = now;
  }
};

}  // namespace lapwright::schedules
