#include "tuning/levels.h"

#include <algorithm>

namespace lapwright {

void Levels::clear() {
  places_.clear();
  of_passes_.clear();
  ties_.clear();
}

Eigen::Index Levels::find(const kernel::Place& at) const {
  const auto same = [&](const kernel::Place& level) { return kernel::same_level(level, at); };
  return std::find_if(places_.begin(), places_.end(), same) - places_.begin();
}

void Levels::note(double drive, Direction direction) {
  const kernel::Place here(drive, direction);
  const Eigen::Index level = find(here);
  if (level == size()) places_.push_back(here);
  of_passes_.push_back(level);
}

Eigen::Index Levels::level_of(const Query& at) const { return find(kernel::Place(at.drive, at.direction)); }

const Ties& Levels::ties(const Query& at, double slope) {
  if (slope != slope_) ties_.clear();
  slope_ = slope;
  Ties& result = ties_[{at.drive, at.direction}];
  const Eigen::Index done = result.trend.size();
  if (done == size()) return result;
  const kernel::Place here(at.drive, at.direction);
  result.trend.conservativeResize(size());
  result.shape.conservativeResize(size());
  for (Eigen::Index level = done; level < size(); ++level) {
    const kernel::Place& there = places_[static_cast<std::size_t>(level)];
    result.trend(level) = kernel::trend(slope, here, there);
    result.shape(level) = kernel::shape(here, there);
    if (kernel::same_level(here, there)) result.same = level;
  }
  return result;
}

Eigen::VectorXd Levels::covariances(const ResponseScales& scales, double slope, const Query& at) const {
  const kernel::Place here(at.drive, at.direction);
  Eigen::VectorXd result(size());
  for (Eigen::Index level = 0; level < size(); ++level) result(level) = covariance(scales, slope, here, level);
  return result;
}

double Levels::covariance(const ResponseScales& scales, double slope, const kernel::Place& at,
                          Eigen::Index level) const {
  return kernel::warm_covariance(scales, slope, at, places_[static_cast<std::size_t>(level)]);
}

}  // namespace lapwright
