#include "tuning/slow_end.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace {

constexpr double same_drive = 1e-4;  // counts

}  // namespace

bool SlowEnd::stalls(const Query& query) const { return query.drive <= floor(query.direction) + same_drive; }

void SlowEnd::note_stall(const Query& query, std::span<const Observation> seen) {
  const bool runs_slower = std::any_of(seen.begin(), seen.end(), [&](const Observation& pass) {
    return pass.direction == query.direction && pass.drive <= query.drive + same_drive;
  });
  if (runs_slower) return;
  floor_[index(query.direction)] = std::max(floor(query.direction), query.drive);
}

void SlowEnd::doubt(std::span<const Observation> seen) {
  for (const Observation& pass : seen) {
    if (stalls(Query{pass.drive, pass.direction})) floor_[index(pass.direction)] = -1;
  }
}

SlowEnd::Gap SlowEnd::gap(std::span<const Observation> seen, const Traits& traits,
                          const DriveSettings& settings) const {
  Gap result;
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const double stalled = floor(direction);
    if (stalled < 0) continue;
    double slowest = 255;
    for (const Observation& pass : seen) {
      if (pass.direction == direction) slowest = std::min(slowest, pass.drive);
    }
    const double stalls = value_of_drive(traits, settings, stalled, direction);
    const double runs = value_of_drive(traits, settings, slowest, direction);
    result.stalls = std::max(result.stalls, std::clamp(static_cast<int>(std::floor(stalls + same_drive)), 0, 254));
    result.runs = std::max(result.runs, std::clamp(static_cast<int>(std::ceil(runs - same_drive)), 1, 255));
  }
  result.runs = std::max(result.runs, result.stalls + 1);
  return result;
}

}  // namespace lapwright
