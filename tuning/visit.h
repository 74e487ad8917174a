// One visit of a whole engine to the trap, head to tail, and the speed that all of it agrees on.
#pragma once

#include <optional>
#include <vector>

#include "tuning/edge_filter.h"
#include "tuning/pass_reader.h"

namespace lapwright {

/// Slower than the first two edges and safe against missing ones: head and tail have to tell the same speed, and both
/// gates the same length of engine.
class Visit {
 public:
  explicit Visit(const Trap& trap) : trap_(trap) {}
  void feed(const Passage& passage) { seen_.push_back(passage); }
  [[nodiscard]] bool begun() const { return !seen_.empty(); }
  /// How long the gates have to be quiet for the engine to have gone.
  [[nodiscard]] double quiet_s() const;
  struct Finding {
    double speed_mm_s = 0;
    bool low_came_first = true;
    double unsteady = 0;   ///< share by which head and tail disagree about the speed
    double head_at_s = 0;  ///< board time at which the head came to the second gate
  };
  /// From the head's coming to the second gate until the gates have been quiet for `quiet_s` after the last edge.
  [[nodiscard]] double since_s(const Finding& finding) const {
    return seen_.back().at_s - finding.head_at_s + quiet_s();
  }
  /// Empty when the edges contradict each other: some are missing.
  [[nodiscard]] std::optional<Finding> finding() const;

 private:
  Trap trap_;
  std::vector<Passage> seen_;
};

}  // namespace lapwright
