// The drive levels that were measured: all passes at one level in one direction look alike from a warm query.
#pragma once

#include <Eigen/Dense>
#include <map>
#include <span>
#include <utility>
#include <vector>

#include "tuning/observation.h"
#include "tuning/response_kernel.h"

namespace lapwright {

/// What ties a query to the levels, before the scales weigh it.
struct Ties {
  Eigen::VectorXd trend;   ///< kernel::trend, level by level
  Eigen::VectorXd shape;   ///< kernel::shape
  Eigen::Index same = -1;  ///< the level that is the query's own drive, if one is
};

class Levels {
 public:
  void clear();
  /// Takes in a pass. @param drive  counts, as the decoder rounds it
  void note(double drive, Direction direction);

  [[nodiscard]] Eigen::Index size() const { return static_cast<Eigen::Index>(places_.size()); }
  /// Level of each pass, in the order they were noted.
  [[nodiscard]] std::span<const Eigen::Index> of_passes() const { return of_passes_; }
  /// The level of exactly this drive, `size()` if there is none. @param at  its drive as the decoder rounds it
  [[nodiscard]] Eigen::Index level_of(const Query& at) const;
  /// Remembered: only levels that are new since the query was last asked for cost anything.
  [[nodiscard]] const Ties& ties(const Query& at, double slope);
  /// Covariance of the warm speed at a query with that at each level, or at one.
  [[nodiscard]] Eigen::VectorXd covariances(const ResponseScales& scales, double slope, const Query& at) const;
  [[nodiscard]] double covariance(const ResponseScales& scales, double slope, const kernel::Place& at,
                                  Eigen::Index level) const;

 private:
  [[nodiscard]] Eigen::Index find(const kernel::Place& at) const;

  std::vector<kernel::Place> places_;
  std::vector<Eigen::Index> of_passes_;
  std::map<std::pair<double, Direction>, Ties> ties_;
  double slope_ = 0;  // of the ties
};

}  // namespace lapwright
