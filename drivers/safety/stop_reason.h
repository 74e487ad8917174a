// Why the guard stopped an engine: the first reason latches and is what people get to read.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace lapwright {

enum class StopReason : std::uint8_t {
  asked,          ///< a person wants everything dead at once
  over_current,   ///< the track drew more than its limit for longer than allowed: short circuit, blocked wheels
  mean_current,   ///< the mean of the last minute is over its limit: an engine that drags or is stalled
  running_time,   ///< the engine ran for as long as one engine may
  rig_lost,       ///< station or board no longer answer
  overspeed,      ///< faster than the sheet and the configuration allow
  moved_at_rest,  ///< a passage long after the engine was commanded to stand
  own_fault,      ///< of this program
  host_late,      ///< the computer left this program waiting for too long
  no_sensor,      ///< the track current is not known, or can't be true
  no_passage,     ///< commanded to run, and no gate saw it for too long
};

/// What a stop does, weakest first. More severe ones include the weaker.
enum class StopAction : std::uint8_t {
  none,
  park,  ///< the engine is halted for good; the track stays live so that CVs can be written back
  dead,  ///< the engine is halted and the track is made dead
};

struct Stop {
  StopReason reason = StopReason::asked;
  std::string sentence;  ///< with limit, measured value and what to do
};

/// Short code for tables and records.
[[nodiscard]] constexpr std::string_view code(StopReason reason) {
  switch (reason) {
    case StopReason::asked:
      return "stop-asked";
    case StopReason::over_current:
      return "over-current";
    case StopReason::mean_current:
      return "mean-current";
    case StopReason::running_time:
      return "running-time";
    case StopReason::rig_lost:
      return "rig-lost";
    case StopReason::overspeed:
      return "overspeed";
    case StopReason::moved_at_rest:
      return "moved-at-rest";
    case StopReason::own_fault:
      return "own-fault";
    case StopReason::host_late:
      return "host-late";
    case StopReason::no_sensor:
      return "no-sensor";
    case StopReason::no_passage:
      return "no-passage";
  }
  return "unknown";
}

[[nodiscard]] constexpr StopAction action(StopReason reason) {
  return reason == StopReason::running_time ? StopAction::park : StopAction::dead;
}

}  // namespace lapwright
