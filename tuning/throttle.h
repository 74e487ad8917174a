// What a throttle sends: a direction and a speed step in one of the step modes of the standard.
#pragma once

#include <cstdint>

namespace lapwright {

enum class Direction : std::uint8_t { forward, reverse };

[[nodiscard]] constexpr Direction opposite(Direction direction) {
  return direction == Direction::forward ? Direction::reverse : Direction::forward;
}

/// 28-step and 126-step operation (NMRA S-9.2 and S-9.2.1 §2.3.2.1).
enum class StepMode : std::uint8_t { steps28, steps126 };

/// Number of running steps of a mode.
[[nodiscard]] constexpr int top_step(StepMode mode) { return mode == StepMode::steps28 ? 28 : 126; }

/// Step 0 is the stop under momentum; an emergency stop is `Rig::halt`.
struct ThrottleCommand {
  int step = 0;  ///< 0 … top_step(mode)
  Direction direction = Direction::forward;
  StepMode mode = StepMode::steps28;
  bool operator==(const ThrottleCommand&) const = default;
};

}  // namespace lapwright
