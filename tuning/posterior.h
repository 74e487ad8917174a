// The response under one set of scales: the Cholesky factor of the passes' covariance and what follows from it.
#pragma once

#include <Eigen/Dense>
#include <span>

#include "tuning/response_kernel.h"

namespace lapwright {

/// Observations at one drive in one direction: towards a warm query they all have the same covariance.
struct Level {
  double drive = 0;  ///< counts, as the decoder rounds it
  Direction direction = Direction::forward;
};

class Posterior {
 public:
  Posterior(const ResponseScales& scales, double slope) : scales_(scales), slope_(slope) {}

  /// Throws std::logic_error when the covariance can't be factorised: the noise in it makes that impossible.
  void factorise(const kernel::Parts& parts, const Eigen::VectorXd& speeds);
  /// Takes in the last row of the parts, by the square of their number.
  void append(const kernel::Parts& parts, double speed);
  /// Sums the weights of the observations at each level. @param level_of  level of each observation
  void gather(std::span<const std::size_t> level_of, std::size_t levels);

  [[nodiscard]] const ResponseScales& scales() const { return scales_; }
  [[nodiscard]] const Eigen::VectorXd& weights() const { return weights_; }    ///< covariance⁻¹ · speeds, made warm
  [[nodiscard]] const Eigen::VectorXd& whitened() const { return whitened_; }  ///< factor⁻¹ · speeds, made warm
  [[nodiscard]] const Eigen::VectorXd& level_weights() const { return level_weights_; }
  /// Replaces each column c by factor⁻¹ · c.
  void whiten(const Eigen::Ref<Eigen::MatrixXd>& columns) const;

 private:
  void weigh();

  ResponseScales scales_;
  double slope_;
  Eigen::Index size_ = 0;
  Eigen::MatrixXd factor_;  // lower, with room to grow
  Eigen::VectorXd whitened_;
  Eigen::VectorXd weights_;
  Eigen::VectorXd level_weights_;
};

}  // namespace lapwright
