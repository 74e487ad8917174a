// Why the guard stopped an engine: the first reason latches and is what people get to read.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace lapwright {

enum class StopReason : std::uint8_t {
  asked,          ///< a person wants everything dead at once
  over_current,   ///< the track drew more than its limit for longer than allowed: short circuit, blocked wheels
  mean_current,   ///< the mean of the last minute is over its limit: an engine that drags or is stalled
  running_time,   ///< the engine ran for as long as one engine may
  rig_lost,       ///< station or board no longer answer
  energised,      ///< the track was live for as long as the board allows in one go
  overspeed,      ///< faster than the sheet and the configuration allow
  moved_at_rest,  ///< a passage long after the engine was commanded to stand
  own_fault,      ///< of this program
  host_late,      ///< the computer left this program waiting for too long
  no_sensor,      ///< the track current is not known, or can't be true
  no_passage,     ///< commanded to run, and no gate saw it for too long
  stalled,        ///< it does not move though it is commanded to, and pushing did not help
  wrong_way,      ///< it runs against the direction that it was commanded
  gate_order,     ///< two gates saw something at times that no engine can be at both
  end_of_track,   ///< of a shuttle or a staging track: it was about to run against the buffers
  off_route,      ///< a gate saw it where the turnouts should not have led it
  hours_over,     ///< the hours in which the owner allows work are over
  storage_lost,   ///< what is measured can't be kept any more
};

/// What a stop does, weakest first. More severe ones include the weaker.
enum class StopAction : std::uint8_t {
  none,
  park,  ///< the engine is halted for good; the track stays live so that CVs can be written back
  dead,  ///< the engine is halted and the track is made dead
};

/// What the guard knew at that moment: names and values with their units, for people.
using Evidence = std::vector<std::pair<std::string, std::string>>;

struct Stop {
  StopReason reason = StopReason::asked;
  std::string sentence;  ///< with limit, measured value and what to do
  Evidence evidence = {};
};

/// Short code for tables and records.
[[nodiscard]] std::string_view code(StopReason reason);

/// Where the engine is known to obey, what was lent from its decoder is written back first.
[[nodiscard]] StopAction action(StopReason reason);

/// A trip: nothing runs again before a person has cleared it, or a rule of the configuration allows another try.
[[nodiscard]] bool latches(StopReason reason);

}  // namespace lapwright
