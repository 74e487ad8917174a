#include "tuning/posterior.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace lapwright {
namespace {}  // namespace

void Posterior::factorise(const kernel::Parts& parts, const Eigen::VectorXd& speeds) {
  size_ = parts.size();
  crosses_.clear();
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

void Posterior::gather(const Levels& levels) {
  level_weights_.setZero(levels.size());
  Eigen::Index pass = 0;
  for (const Eigen::Index level : levels.of_passes()) level_weights_(level) += weights_(pass++);
}

double Posterior::prior(const Query& rounded) const {
  const kernel::Place at(rounded.drive, rounded.direction);
  return kernel::warm_covariance(scales_, slope_, at, at);
}

Eigen::MatrixXd Posterior::crosses(std::span<const Query> queries, const Levels& levels) {
  Eigen::MatrixXd result(size_, static_cast<Eigen::Index>(queries.size()));
  std::vector<Eigen::Index> fresh;
  for (Eigen::Index q = 0; q < result.cols(); ++q) {
    const Query& query = queries[static_cast<std::size_t>(q)];
    const auto held = crosses_.find(Key(query.drive, query.direction));
    if (held == crosses_.end()) {
      fresh.push_back(q);
      continue;
    }
    carry_on(held->second, query, levels);
    result.col(q) = held->second;
  }
  if (fresh.empty()) return result;
  // Together: one solve of many columns is much cheaper than many of one.
  Eigen::MatrixXd columns(size_, static_cast<Eigen::Index>(fresh.size()));
  for (Eigen::Index i = 0; i < columns.cols(); ++i) {
    const Query& query = queries[static_cast<std::size_t>(fresh[static_cast<std::size_t>(i)])];
    const Eigen::VectorXd of_levels = levels.covariances(scales_, slope_, query);
    Eigen::Index pass = 0;
    for (const Eigen::Index level : levels.of_passes()) columns(pass++, i) = of_levels(level);
  }
  whiten(columns);
  for (Eigen::Index i = 0; i < columns.cols(); ++i) {
    const Eigen::Index q = fresh[static_cast<std::size_t>(i)];
    const Query& query = queries[static_cast<std::size_t>(q)];
    crosses_.emplace(Key(query.drive, query.direction), columns.col(i));
    result.col(q) = columns.col(i);
  }
  return result;
}

/// The rows that passes have added: a step of the forward substitution each.
void Posterior::carry_on(Eigen::VectorXd& cross, const Query& query, const Levels& levels) const {
  const Eigen::Index done = cross.size();
  if (done == size_) return;
  const kernel::Place at(query.drive, query.direction);
  cross.conservativeResize(size_);
  for (Eigen::Index row = done; row < size_; ++row) {
    const double covariance = levels.covariance(scales_, slope_, at, levels.of_passes()[static_cast<std::size_t>(row)]);
    cross(row) = (covariance - factor_.row(row).head(row).dot(cross.head(row))) / factor_(row, row);
  }
}

void Posterior::whiten(const Eigen::Ref<Eigen::MatrixXd>& columns) const {
  factor_.topLeftCorner(size_, size_).triangularView<Eigen::Lower>().solveInPlace(columns);
}

}  // namespace lapwright
