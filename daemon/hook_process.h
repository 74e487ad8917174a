// One command of the owner's: started without a shell, given a document, waited for, killed when it takes too long.
#pragma once

#include <atomic>
#include <cstddef>
#include <string>
#include <vector>

#include "tuning/clock.h"

namespace lapwright {

struct HookOrder {
  std::vector<std::string> words;  ///< program, by its path, and arguments
  std::string document;            ///< what it gets on its stdin
  double limit_s = 0;              ///< after which it is killed
};

struct HookEnd {
  std::string trouble;  ///< why it is no success; empty: it ended with status 0
  std::string said;     ///< the beginning of what it wrote to stdout and stderr
};

inline constexpr std::size_t most_said_bytes = 4096;  ///< what is kept of it

/// Blocks: it belongs into a thread of its own, even the starting, since the disk that the program is on may sleep.
/// The command runs in a process group of its own and inherits neither descriptors nor blocked or ignored signals.
/// What it leaves running in that group is killed when it ends itself.
/// @param give_up  once true, it is killed before its time
[[nodiscard]] HookEnd run_hook(const HookOrder& order, const Clock& clock, const std::atomic<bool>& give_up);

}  // namespace lapwright
