// The response under one set of scales: the Cholesky factor of the passes' covariance and what follows from it.
#pragma once

#include <Eigen/Dense>
#include <map>
#include <span>
#include <utility>

#include "tuning/levels.h"
#include "tuning/response_kernel.h"

namespace lapwright {

/// Units squared; less is rounding, as every pass has noise.
inline constexpr double least_variance = 1e-8;

class Posterior {
 public:
  Posterior(const ResponseScales& scales, double slope) : scales_(scales), slope_(slope) {}

  /// Throws std::logic_error when the covariance can't be factorised: the noise in it makes that impossible.
  void factorise(const kernel::Parts& parts, const Eigen::VectorXd& speeds);
  /// Takes in the last row of the parts, by the square of their number.
  void append(const kernel::Parts& parts, double speed);
  /// Sums the weights of the observations at each level.
  void gather(const Levels& levels);

  [[nodiscard]] const ResponseScales& scales() const { return scales_; }
  [[nodiscard]] const Eigen::VectorXd& weights() const { return weights_; }    ///< covariance⁻¹ · speeds, made warm
  [[nodiscard]] const Eigen::VectorXd& whitened() const { return whitened_; }  ///< factor⁻¹ · speeds, made warm
  [[nodiscard]] const Eigen::VectorXd& level_weights() const { return level_weights_; }
  /// Replaces each column c by factor⁻¹ · c.
  void whiten(const Eigen::Ref<Eigen::MatrixXd>& columns) const;
  /// Variance of the warm speed at a query before any pass.
  [[nodiscard]] double prior(const Query& rounded) const;
  /// factor⁻¹ · c for the covariances c of the passes with the warm speed at each query, passes × queries. Remembered:
  /// a pass appended since then costs each of them a row and no more. @param queries  drives as the decoder rounds them
  [[nodiscard]] Eigen::MatrixXd crosses(std::span<const Query> queries, const Levels& levels);

 private:
  using Key = std::pair<double, Direction>;

  void weigh();
  void carry_on(Eigen::VectorXd& cross, const Query& query, const Levels& levels) const;

  ResponseScales scales_;
  double slope_;
  Eigen::Index size_ = 0;
  Eigen::MatrixXd factor_;  // lower, with room to grow
  Eigen::VectorXd whitened_;
  Eigen::VectorXd weights_;
  Eigen::VectorXd level_weights_;
  std::map<Key, Eigen::VectorXd> crosses_;
};

}  // namespace lapwright
