// Where the engine stops running at the slow end of the drive, as far as stalls and passes tell.
#pragma once

#include <array>
#include <span>

#include "tuning/drive.h"
#include "tuning/observation.h"

namespace lapwright {

class SlowEnd {
 public:
  /// Drive in counts at and below which the engine stalls; negative while no stall is known.
  [[nodiscard]] double floor(Direction direction) const { return floor_[index(direction)]; }
  [[nodiscard]] bool stalls(const Query& query) const;
  /// Believed unless the engine was seen to run at that drive or a lower one.
  void note_stall(const Query& query, std::span<const Observation> seen);
  /// Forgets stalls at drives that ran since: they were specks of dirt.
  void doubt(std::span<const Observation> seen);

  /// Table values: the highest that stalled in either direction, and the lowest above it that ran in both.
  struct Gap {
    int stalls = -1;  ///< -1: none did
    int runs = 0;
  };
  [[nodiscard]] Gap gap(std::span<const Observation> seen, const Traits& traits, const DriveSettings& settings) const;

 private:
  std::array<double, 2> floor_ = {-1, -1};
};

}  // namespace lapwright
