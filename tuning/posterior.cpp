#include "tuning/posterior.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace lapwright {
namespace {

constexpr double least_variance = 1e-8;  // units squared: less is rounding, as every pass has noise

}  // namespace

void Posterior::factorise(const kernel::Parts& parts, const Eigen::VectorXd& speeds) {
  size_ = parts.size();
  const Eigen::Index room = std::max(factor_.rows(), size_);
  factor_.resize(room, room);
  parts.sum_into(factor_, scales_, slope_);
  Eigen::Ref<Eigen::MatrixXd> used = factor_.topLeftCorner(size_, size_);
  const Eigen::LLT<Eigen::Ref<Eigen::MatrixXd>> in_place(used);
  if (in_place.info() != Eigen::Success)
    throw std::logic_error("the covariance of the passes is not positive definite");
  whitened_ = speeds - parts.lacks(scales_);
  whiten(whitened_);
  weigh();
}

void Posterior::append(const kernel::Parts& parts, double speed) {
  const Eigen::Index row = size_;
  size_ = parts.size();
  if (size_ > factor_.rows()) factor_.conservativeResize(2 * size_, 2 * size_);
  const Eigen::VectorXd covariances = parts.last_row(scales_, slope_);
  Eigen::VectorXd left = covariances.head(row);
  factor_.topLeftCorner(row, row).triangularView<Eigen::Lower>().solveInPlace(left);
  const double own = std::sqrt(std::max(covariances(row) - left.squaredNorm(), least_variance));
  factor_.row(row).head(row) = left.transpose();
  factor_(row, row) = own;
  const double surprise = speed - parts.last_lack(scales_) - left.dot(whitened_);
  whitened_.conservativeResize(size_);
  whitened_(row) = surprise / own;
  weigh();
}

void Posterior::weigh() {
  weights_ = whitened_;
  factor_.topLeftCorner(size_, size_).triangularView<Eigen::Lower>().transpose().solveInPlace(weights_);
}

void Posterior::gather(std::span<const std::size_t> level_of, std::size_t levels) {
  level_weights_.setZero(static_cast<Eigen::Index>(levels));
  for (std::size_t i = 0; i < level_of.size(); ++i) {
    level_weights_(static_cast<Eigen::Index>(level_of[i])) += weights_(static_cast<Eigen::Index>(i));
  }
}

void Posterior::whiten(const Eigen::Ref<Eigen::MatrixXd>& columns) const {
  factor_.topLeftCorner(size_, size_).triangularView<Eigen::Lower>().solveInPlace(columns);
}

}  // namespace lapwright
