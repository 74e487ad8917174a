// What the tune must reach, held against what it reached.
#pragma once

#include <string>
#include <vector>

#include "tests/bench/outcome.h"

namespace lapwright::bench {

struct Requirement {
  std::string text;
  double reached = 0;
  double limit = 0;
  bool at_most = true;  ///< otherwise at least
  [[nodiscard]] bool passed() const { return at_most ? reached <= limit : reached >= limit; }
};

/// Only those for which there are runs.
[[nodiscard]] std::vector<Requirement> requirements(const std::vector<RunResult>& runs);
/// One line each; false when one failed.
[[nodiscard]] bool print_requirements(const std::vector<Requirement>& list);

}  // namespace lapwright::bench
