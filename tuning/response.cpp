#include "tuning/response.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace lapwright {
namespace {

constexpr double length_counts = 60;                     // over which the curve's bend is felt
constexpr std::array<double, 2> warming_s = {110, 320};  // they span what engines show
constexpr double wander_s = 120;
constexpr std::size_t outliers_at_most = 4;
constexpr std::size_t thorough_below = 45;  // passes: later the scales move little, and fits get dear

double square(double value) { return value * value; }

double matern52(double distance) {
  const double r = std::sqrt(5.0) * distance / length_counts;
  return (1 + r + r * r / 3) * std::exp(-r);
}

double sign(Direction direction) { return direction == Direction::forward ? 1.0 : -1.0; }

double round_to(double drive, double quantum) { return quantum > 0 ? std::round(drive / quantum) * quantum : drive; }

bool same_cell(double drive, double other) { return std::abs(drive - other) < 1e-4; }

double wander_scale(double speed) { return 0.02 + 0.002 * speed; }

double warming_covariance(const Observation& a, const Observation& b) {
  double sum = 0;
  for (const double tau : warming_s) sum += std::exp(-(a.running_s + b.running_s) / tau);
  const double common = 0.5 * (square(1.5) + square(0.05) * a.speed * b.speed) * sum;
  return common * (1 + 0.1 * sign(a.direction) * sign(b.direction));  // the stiffer direction warms more
}

double wander_covariance(const Observation& a, const Observation& b) {
  return wander_scale(a.speed) * wander_scale(b.speed) * std::exp(-std::abs(a.running_s - b.running_s) / wander_s);
}

struct ScaleGrid {
  double ResponseScales::*scale;
  std::array<double, 5> values;  // rising

  [[nodiscard]] std::ptrdiff_t place(const ResponseScales& scales) const {
    const auto held = std::lower_bound(values.begin(), values.end(), scales.*scale * 0.999);
    return std::min<std::ptrdiff_t>(held - values.begin(), std::ssize(values) - 1);
  }
  [[nodiscard]] ResponseScales with(ResponseScales scales, std::ptrdiff_t i) const {
    scales.*scale = values[static_cast<std::size_t>(i)];
    return scales;
  }
};

constexpr ScaleGrid warming_grid = {&ResponseScales::warming, {0.02, 0.08, 0.25, 0.7, 1.6}};
constexpr ScaleGrid wander_grid = {&ResponseScales::wander, {0.1, 0.3, 0.9, 2.5, 6.0}};
constexpr std::array<ScaleGrid, 4> scale_grids = {{
    {&ResponseScales::shape, {0.1, 0.25, 0.6, 1.4, 3.0}},
    {&ResponseScales::repeatability, {0.001, 0.002, 0.004, 0.01, 0.025}},
    {&ResponseScales::scatter, {0.002, 0.006, 0.02, 0.06, 0.16}},
    {&ResponseScales::cell, {0.01, 0.03, 0.07, 0.15, 0.3}},
}};

double log_prior(double value, double centre, double width) { return -0.5 * square(std::log(value / centre) / width); }

}  // namespace

double Response::rounded(double drive) const { return round_to(drive, scales_.quantum); }

double Response::trend(double drive, double other, double signs) const {
  const double slopes = square(slope_) * drive * other;
  return 400 + slopes + signs * (0.36 + 0.0036 * slopes);
}

void Response::fill_row(Bases& parts, Eigen::Index row, double quantum) const {
  const Observation& a = observations_[static_cast<std::size_t>(row)];
  const double drive_a = round_to(a.drive, quantum);
  for (Eigen::Index column = 0; column <= row; ++column) {
    const Observation& b = observations_[static_cast<std::size_t>(column)];
    const double drive_b = round_to(b.drive, quantum);
    const double signs = sign(a.direction) * sign(b.direction);
    parts.trend(row, column) = trend(drive_a, drive_b, signs);
    parts.shape(row, column) = matern52(std::abs(drive_a - drive_b)) * (1 + 0.09 * signs);
    parts.warming(row, column) = warming_covariance(a, b);
    parts.wander(row, column) = wander_covariance(a, b);
    parts.cell(row, column) = a.direction == b.direction && same_cell(drive_a, drive_b) ? 1.0 : 0.0;
  }
  parts.speed_squared(row) = square(a.speed);
  parts.timing_squared(row) = square(a.timing_sd);
}

Response::Bases Response::all_bases(double quantum) const {
  const auto n = static_cast<Eigen::Index>(observations_.size());
  Bases result;
  for (auto* matrix : {&result.trend, &result.shape, &result.warming, &result.wander, &result.cell}) {
    matrix->setZero(n, n);
  }
  for (auto* vector : {&result.speed_squared, &result.timing_squared}) vector->setZero(n);
  for (Eigen::Index row = 0; row < n; ++row) fill_row(result, row, quantum);
  return result;
}

void Response::extend_bases() {
  const auto n = static_cast<Eigen::Index>(observations_.size());
  for (auto* matrix : {&bases_.trend, &bases_.shape, &bases_.warming, &bases_.wander, &bases_.cell}) {
    matrix->conservativeResize(n, n);
    matrix->col(n - 1).setZero();
  }
  for (auto* vector : {&bases_.speed_squared, &bases_.timing_squared}) vector->conservativeResize(n);
  fill_row(bases_, n - 1, scales_.quantum);
}

Eigen::MatrixXd Response::covariance(const Bases& parts, const ResponseScales& scales) const {
  Eigen::MatrixXd sum = parts.trend + square(scales.shape) * parts.shape + square(scales.warming) * parts.warming +
                        square(scales.wander) * parts.wander + square(scales.cell * slope_) * parts.cell;
  sum.diagonal() += square(scales.repeatability) * parts.speed_squared + parts.timing_squared;
  sum.diagonal().array() += square(scales.scatter) + 1e-6;
  return sum;
}

double Response::log_evidence(const Bases& parts, const ResponseScales& scales) const {
  const Eigen::LLT<Eigen::MatrixXd> factor(covariance(parts, scales));
  if (factor.info() != Eigen::Success) return -std::numeric_limits<double>::infinity();
  Eigen::VectorXd speeds(static_cast<Eigen::Index>(observations_.size()));
  for (std::size_t i = 0; i < observations_.size(); ++i) speeds(static_cast<Eigen::Index>(i)) = observations_[i].speed;
  const Eigen::VectorXd whitened = factor.matrixL().solve(speeds);
  const double log_determinant = Eigen::VectorXd(factor.matrixLLT().diagonal()).array().log().sum();
  return -0.5 * whitened.squaredNorm() - log_determinant + log_prior(scales.shape, 0.5, 1.2) +
         log_prior(scales.repeatability, 0.004, 1.0) + log_prior(scales.scatter, 0.008, 1.2) +
         log_prior(scales.warming, 0.15, 1.2) + log_prior(scales.wander, 0.5, 1.0) + log_prior(scales.cell, 0.08, 1.0);
}

void Response::search_scales() {
  double best = log_evidence(bases_, scales_);
  const auto try_scales = [&](const ResponseScales& other) {
    const double evidence = log_evidence(bases_, other);
    if (evidence <= best) return;
    best = evidence;
    scales_ = other;
  };
  const bool thorough = observations_.size() < thorough_below;
  for (int round = 0; round < 2; ++round) {
    for (const ScaleGrid& grid : scale_grids) {
      const std::ptrdiff_t held = grid.place(scales_);
      for (std::ptrdiff_t i = 0; i < std::ssize(grid.values); ++i) {
        if (i == held || !(thorough || std::abs(i - held) == 1)) continue;
        try_scales(grid.with(scales_, i));
      }
    }
    // Warming and wander explain the same slow changes: what one gives up the other has to take over.
    for (const double warming : warming_grid.values) {
      for (const double wander : wander_grid.values) {
        ResponseScales other = scales_;
        other.warming = warming;
        other.wander = wander;
        try_scales(other);
      }
    }
  }
  search_quantum(best);
}

void Response::search_quantum(double best) {
  static constexpr std::array quanta = {0.0, 0.25, 0.5, 1.0};
  for (const double quantum : quanta) {
    if (quantum == scales_.quantum) continue;
    Bases other = all_bases(quantum);
    // A claim about the decoder's rounding wants evidence: twenty to one.
    const double evidence = log_evidence(other, scales_) - (quantum == 0 ? 0.0 : 3.0);
    if (evidence > best) {
      best = evidence;
      scales_.quantum = quantum;
      bases_ = std::move(other);
    }
  }
}

bool Response::drop_outlier() {
  if (dropped_ >= outliers_at_most || observations_.size() < 8) return false;
  const auto n = static_cast<Eigen::Index>(observations_.size());
  const Eigen::MatrixXd inverse = factor_.solve(Eigen::MatrixXd::Identity(n, n));
  Eigen::Index worst = -1;
  double worst_z = 4.5;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double residual = weights_(i) / inverse(i, i);
    const double z = std::abs(residual) * std::sqrt(inverse(i, i));
    const double speed = observations_[static_cast<std::size_t>(i)].speed;
    if (z > worst_z && std::abs(residual) > 0.05 * speed + 0.1) {
      worst_z = z;
      worst = i;
    }
  }
  if (worst < 0) return false;
  observations_.erase(observations_.begin() + worst);
  bases_ = all_bases(scales_.quantum);
  ++dropped_;
  return true;
}

void Response::factorise() {
  double fastest = 0;
  double slope = slope_;
  for (const Observation& observation : observations_) {
    if (observation.speed <= fastest) continue;
    fastest = observation.speed;
    slope = observation.speed / std::max(observation.drive, 1.0);
  }
  if (slope != slope_) {
    slope_ = slope;
    bases_ = all_bases(scales_.quantum);
  }
  factor_.compute(covariance(bases_, scales_));
  Eigen::VectorXd speeds(static_cast<Eigen::Index>(observations_.size()));
  for (std::size_t i = 0; i < observations_.size(); ++i) speeds(static_cast<Eigen::Index>(i)) = observations_[i].speed;
  weights_ = factor_.solve(speeds);
}

void Response::add(const Observation& observation) {
  observations_.push_back(observation);
  extend_bases();
  factorise();
}

void Response::refit() {
  if (observations_.size() < 4) return;
  // Before the scales are searched: they would stretch to explain the wild reading.
  if (drop_outlier()) factorise();
  search_scales();
  factorise();
  if (drop_outlier()) factorise();
}

double Response::smooth_covariance(double drive, double other, double signs) const {
  return trend(drive, other, signs) + square(scales_.shape) * matern52(std::abs(drive - other)) * (1 + 0.09 * signs);
}

double Response::curve(const Query& query) const {
  double sum = 0;
  for (std::size_t i = 0; i < observations_.size(); ++i) {
    const Observation& seen = observations_[i];
    const double signs = sign(query.direction) * sign(seen.direction);
    sum += weights_(static_cast<Eigen::Index>(i)) * smooth_covariance(query.drive, rounded(seen.drive), signs);
  }
  return sum;
}

Eigen::VectorXd Response::cross(const Query& query) const {
  const double drive = rounded(query.drive);
  Eigen::VectorXd result(static_cast<Eigen::Index>(observations_.size()));
  for (std::size_t i = 0; i < observations_.size(); ++i) {
    const Observation& seen = observations_[i];
    const double seen_drive = rounded(seen.drive);
    const double signs = sign(query.direction) * sign(seen.direction);
    double value = smooth_covariance(drive, seen_drive, signs);
    if (query.direction == seen.direction && same_cell(drive, seen_drive)) value += square(scales_.cell * slope_);
    result(static_cast<Eigen::Index>(i)) = value;
  }
  return result;
}

double Response::prior_variance(const Query& query) const {
  const double drive = rounded(query.drive);
  return trend(drive, drive, 1) + square(scales_.shape) * 1.09 + square(scales_.cell * slope_);
}

std::vector<Estimate> Response::warm(std::span<const Query> queries) const {
  std::vector<Estimate> result;
  result.reserve(queries.size());
  Eigen::MatrixXd crosses(static_cast<Eigen::Index>(observations_.size()), static_cast<Eigen::Index>(queries.size()));
  for (std::size_t q = 0; q < queries.size(); ++q) crosses.col(static_cast<Eigen::Index>(q)) = cross(queries[q]);
  const Eigen::VectorXd means = crosses.transpose() * weights_;
  factor_.matrixL().solveInPlace(crosses);
  for (std::size_t q = 0; q < queries.size(); ++q) {
    const auto column = static_cast<Eigen::Index>(q);
    const double variance = prior_variance(queries[q]) - crosses.col(column).squaredNorm();
    result.push_back(Estimate{means(column), std::sqrt(std::max(variance, 1e-8))});
  }
  return result;
}

Estimate Response::reading(const Query& query, double running_s) const {
  const std::array<Query, 1> one = {query};
  const Estimate steady = warm(one).front();
  Observation future{query.drive, query.direction, std::max(steady.mean, 0.0), running_s, 0};
  Eigen::VectorXd crossing = cross(query);
  for (std::size_t i = 0; i < observations_.size(); ++i) {
    crossing(static_cast<Eigen::Index>(i)) += square(scales_.warming) * warming_covariance(future, observations_[i]) +
                                              square(scales_.wander) * wander_covariance(future, observations_[i]);
  }
  const double prior = prior_variance(query) + square(scales_.warming) * warming_covariance(future, future) +
                       square(scales_.wander) * wander_covariance(future, future);
  const Eigen::VectorXd whitened = factor_.matrixL().solve(crossing);
  const double variance = std::max(prior - whitened.squaredNorm(), 0.0) + square(pass_sd(future.speed));
  return Estimate{crossing.dot(weights_), std::sqrt(variance)};
}

Eigen::MatrixXd Response::warm_covariance(std::span<const Query> queries) const {
  const auto n = static_cast<Eigen::Index>(queries.size());
  Eigen::MatrixXd crosses(static_cast<Eigen::Index>(observations_.size()), n);
  for (Eigen::Index q = 0; q < n; ++q) crosses.col(q) = cross(queries[static_cast<std::size_t>(q)]);
  factor_.matrixL().solveInPlace(crosses);
  Eigen::MatrixXd result = -(crosses.transpose() * crosses);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Query& a = queries[static_cast<std::size_t>(i)];
    for (Eigen::Index j = 0; j < n; ++j) {
      const Query& b = queries[static_cast<std::size_t>(j)];
      const double drive_a = rounded(a.drive);
      const double drive_b = rounded(b.drive);
      const double signs = sign(a.direction) * sign(b.direction);
      result(i, j) += smooth_covariance(drive_a, drive_b, signs);
      if (a.direction == b.direction && same_cell(drive_a, drive_b)) result(i, j) += square(scales_.cell * slope_);
    }
  }
  return result;
}

double Response::wander_sd(double speed) const { return scales_.wander * wander_scale(speed); }

double Response::doubtful_sd(double speed) const {
  double longest_s = 0;
  for (const Observation& seen : observations_) longest_s = std::max(longest_s, seen.running_s);
  const double still_cold = scales_.warming * (1.5 + 0.05 * speed) * std::exp(-longest_s / warming_s.back());
  return std::hypot(0.1 * still_cold, 0.3 * wander_sd(speed));
}

double Response::pass_sd(double speed) const { return std::hypot(scales_.scatter, scales_.repeatability * speed); }

}  // namespace lapwright
