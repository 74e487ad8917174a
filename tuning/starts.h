// From which drive the engine starts by itself out of a standstill, in each direction.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "tuning/throttle.h"

namespace lapwright {

class Starts {
 public:
  void note(Direction direction, double drive, bool started) {
    Side& side = sides_[index(direction)];
    if (started) {
      side.starts = std::min(side.starts, drive);
    } else {
      side.stands = std::max(side.stands, drive);
    }
  }
  /// Empty where no trial says it. Where trials contradict each other, the standstill counts.
  [[nodiscard]] std::optional<bool> at(Direction direction, double drive) const {
    const Side& side = sides_[index(direction)];
    if (drive <= side.stands + same_drive) return false;
    if (drive >= side.starts - same_drive) return true;
    return std::nullopt;
  }
  [[nodiscard]] bool known(Direction direction, double drive) const { return at(direction, drive).has_value(); }

 private:
  static constexpr double same_drive = 1e-4;  // counts
  struct Side {
    double starts = 1000;  // counts: the lowest that did
    double stands = -1;    // the highest that did not
  };
  std::array<Side, 2> sides_;
};

}  // namespace lapwright
