// The search for the scales of the response model: marginal likelihood of the passes under weak log-normal priors.
#pragma once

#include <vector>

#include "tuning/response_kernel.h"

namespace lapwright {

/// A set of scales with its share of belief.
struct WeighedScales {
  ResponseScales scales;
  double share = 1;
};

/// One search; the observations stay the same while it lives.
class ScaleSearch {
 public:
  /// @param speeds  of the observations that `parts` describes, units
  /// @param loss  units of speed that friction costs the engine: what warms away is a share of it
  ScaleSearch(const Eigen::VectorXd& speeds, double slope, double loss);

  /// Log of the marginal likelihood, priors included, up to a constant; -infinity where the covariance is singular.
  [[nodiscard]] double evidence(const kernel::Parts& parts, const ResponseScales& scales);
  /// Climbs from the given scales. Few passes leave more than one summit and are searched from two sides; with many
  /// the scales move little and an evaluation is dear, so the steps are few.
  [[nodiscard]] ResponseScales climb(const kernel::Parts& parts, const ResponseScales& from);
  /// The best scales first, then others that explain the passes nearly as well; the shares sum to 1.
  [[nodiscard]] std::vector<WeighedScales> rivals(const kernel::Parts& parts, const ResponseScales& best);

 private:
  void climb_rounds(const kernel::Parts& parts, ResponseScales& scales, double& best, bool thorough);

  const Eigen::VectorXd& speeds_;
  double slope_;
  double loss_;
  Eigen::MatrixXd work_;
};

}  // namespace lapwright
