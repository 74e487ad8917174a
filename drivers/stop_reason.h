// Why the guard stopped an engine: the first reason latches and is what people get to read.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace lapwright {

enum class StopReason : std::uint8_t {
  asked,         ///< a person wants everything dead at once
  over_current,  ///< the track drew more than its limit for longer than allowed: short circuit, blocked wheels
  mean_current,  ///< the mean of the last minute is over its limit: an engine that drags or is stalled
  running_time,  ///< the engine ran for as long as one engine may
  rig_lost,      ///< station or board no longer answer
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
  }
  return "unknown";
}

[[nodiscard]] constexpr StopAction action(StopReason reason) {
  return reason == StopReason::running_time ? StopAction::park : StopAction::dead;
}

}  // namespace lapwright
