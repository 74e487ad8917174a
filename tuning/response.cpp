#include "tuning/response.h"

#include <algorithm>
#include <array>
#include <boost/math/statistics/linear_regression.hpp>
#include <cmath>

namespace lapwright {
namespace {

constexpr std::size_t outliers_at_most = 4;
constexpr std::size_t fit_from = 4;       // passes
constexpr std::size_t outliers_from = 8;  // passes
constexpr double outlier_z = 4.5;
constexpr double quantum_evidence = 3;          // twenty to one: a claim about the decoder's rounding wants evidence
constexpr double least_variance = 1e-8;         // units squared
constexpr double shape_of_warming_doubt = 0.2;  // of what is still cold
constexpr double wander_doubt = 0.3;
constexpr double straight_from = 3.5;  // units
constexpr double least_spread = 10;    // counts: a line through drives that are closer means little
constexpr double usual_loss = 1;       // units, of an engine of which little is known
constexpr double greatest_loss = 8;    // units

double square(double value) { return value * value; }

}  // namespace

double Response::warm_covariance(const ResponseScales& scales, const Query& rounded, const Level& other) const {
  const double signs = kernel::sign(rounded.direction) * kernel::sign(other.direction);
  const bool same = rounded.direction == other.direction && kernel::same_level(rounded.drive, other.drive);
  return kernel::trend(slope_, rounded.drive, other.drive, signs) +
         square(scales.shape) * kernel::shape(rounded.drive, other.drive, signs) +
         (same ? square(scales.cell * slope_) : 0.0);
}

Eigen::VectorXd Response::speeds() const {
  Eigen::VectorXd result(count());
  for (Eigen::Index i = 0; i < count(); ++i) result(i) = observations_[static_cast<std::size_t>(i)].speed;
  return result;
}

void Response::note_level(const Observation& observation) {
  const double drive = rounded(observation.drive);
  const auto here = [&](const Level& level) {
    return level.direction == observation.direction && kernel::same_level(level.drive, drive);
  };
  const auto held = std::find_if(levels_.begin(), levels_.end(), here);
  level_of_.push_back(static_cast<std::size_t>(held - levels_.begin()));
  if (held == levels_.end()) levels_.push_back(Level{drive, observation.direction});
}

void Response::rebuild() {
  levels_.clear();
  level_of_.clear();
  for (const Observation& observation : observations_) note_level(observation);
  parts_.rebuild(observations_, slope_, scales_.quantum);
}

void Response::believe(const std::vector<WeighedScales>& rivals) {
  rivals_ = rivals;
  shares_.resize(static_cast<Eigen::Index>(rivals_.size()));
  const Eigen::VectorXd readings = speeds();
  posteriors_.clear();
  for (const WeighedScales& rival : rivals_) {
    Posterior& posterior = posteriors_.emplace_back(rival.scales, slope_);
    shares_(static_cast<Eigen::Index>(posteriors_.size() - 1)) = rival.share;
    posterior.factorise(parts_, readings);
    posterior.gather(level_of_, levels_.size());
  }
}

/// The fastest pass tells the overall slope; true when it changed.
bool Response::steeper() {
  const auto slower = [](const Observation& a, const Observation& b) { return a.speed < b.speed; };
  const auto fastest = std::max_element(observations_.begin(), observations_.end(), slower);
  if (fastest == observations_.end() || fastest->speed <= 0) return false;
  const double slope = fastest->speed / std::max(fastest->drive, 1.0);
  if (slope == slope_) return false;
  slope_ = slope;
  return true;
}

double Response::friction_loss() const {
  // Where the line through the passes meets no drive; the slowest leave it, because friction that lets go is no line.
  std::vector<double> drives;
  std::vector<double> speeds;
  for (const Observation& seen : observations_) {
    if (seen.speed < straight_from) continue;
    drives.push_back(seen.drive);
    speeds.push_back(seen.speed);
  }
  const auto [lowest, highest] = std::minmax_element(drives.begin(), drives.end());
  if (drives.empty() || *highest - *lowest < least_spread) return usual_loss;
  const auto [at_no_drive, slope] = boost::math::statistics::simple_ordinary_least_squares(drives, speeds);
  return std::clamp(-at_no_drive, 0.0, greatest_loss);
}

void Response::add(const Observation& observation) {
  observations_.push_back(observation);
  if (steeper() || observations_.size() == 1) {
    rebuild();
    believe(rivals_);
    return;
  }
  note_level(observation);
  parts_.append(observations_, slope_, scales_.quantum);
  for (Posterior& posterior : posteriors_) {
    posterior.append(parts_, observation.speed);
    posterior.gather(level_of_, levels_.size());
  }
}

void Response::refit() {
  if (observations_.size() < fit_from) return;
  // Before the scales are searched: they would stretch to explain the wild reading.
  drop_outlier();
  const Eigen::VectorXd readings = speeds();
  ScaleSearch search(readings, slope_, friction_loss());
  scales_ = search.climb(parts_, scales_);
  search_quantum(search);
  believe(search.rivals(parts_, scales_));
  drop_outlier();
}

void Response::search_quantum(ScaleSearch& search) {
  static constexpr std::array quanta = {0.0, 0.25, 0.5, 1.0};
  const auto price = [](double quantum) { return quantum > 0 ? quantum_evidence : 0.0; };
  const double held = scales_.quantum;
  double best_evidence = search.evidence(parts_, scales_) - price(held);
  for (const double quantum : quanta) {
    if (quantum == held) continue;
    kernel::Parts other;
    other.rebuild(observations_, slope_, quantum);
    const double evidence = search.evidence(other, scales_) - price(quantum);
    if (evidence <= best_evidence) continue;
    best_evidence = evidence;
    scales_.quantum = quantum;
  }
  if (scales_.quantum != held) rebuild();
}

bool Response::drop_outlier() {
  if (dropped_ >= outliers_at_most || observations_.size() < outliers_from) return false;
  // Columns of the inverse factor give the diagonal of the inverse, and with it every reading's leave-one-out residual.
  Eigen::MatrixXd inverse = Eigen::MatrixXd::Identity(count(), count());
  best().whiten(inverse);
  Eigen::Index worst = -1;
  double worst_z = outlier_z;
  for (Eigen::Index i = 0; i < count(); ++i) {
    const double precision = inverse.col(i).squaredNorm();
    const double residual = best().weights()(i) / precision;
    const double z = std::abs(residual) * std::sqrt(precision);
    const double speed = observations_[static_cast<std::size_t>(i)].speed;
    if (z > worst_z && std::abs(residual) > 0.05 * speed + 0.1) {
      worst_z = z;
      worst = i;
    }
  }
  if (worst < 0) return false;
  observations_.erase(observations_.begin() + worst);
  ++dropped_;
  steeper();
  rebuild();
  believe(rivals_);
  return true;
}

/// Mean under each of the rivals; the curve alone or with the deviation of the drive level.
Eigen::VectorXd Response::means(const Query& query, bool of_the_level) const {
  Eigen::VectorXd result = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(posteriors_.size()));
  for (std::size_t i = 0; i < levels_.size(); ++i) {
    const Level& level = levels_[i];
    const double signs = kernel::sign(query.direction) * kernel::sign(level.direction);
    const bool same =
        of_the_level && query.direction == level.direction && kernel::same_level(query.drive, level.drive);
    const double trend = kernel::trend(slope_, query.drive, level.drive, signs);
    const double shape = kernel::shape(query.drive, level.drive, signs);
    for (std::size_t k = 0; k < posteriors_.size(); ++k) {
      const ResponseScales& scales = posteriors_[k].scales();
      const double covariance = trend + square(scales.shape) * shape + (same ? square(scales.cell * slope_) : 0.0);
      result(static_cast<Eigen::Index>(k)) += posteriors_[k].level_weights()(static_cast<Eigen::Index>(i)) * covariance;
    }
  }
  return result;
}

double Response::curve(const Query& query) const { return shares_.dot(means(query, false)); }

int Response::passes_at(const Query& query) const {
  const double drive = rounded(query.drive);
  const auto here = [&](std::size_t place) {
    return levels_[place].direction == query.direction && kernel::same_level(levels_[place].drive, drive);
  };
  return static_cast<int>(std::count_if(level_of_.begin(), level_of_.end(), here));
}

Eigen::VectorXd Response::cross(const ResponseScales& scales, const Query& query) const {
  const Query at{rounded(query.drive), query.direction};
  std::vector<double> of_level;
  of_level.reserve(levels_.size());
  for (const Level& level : levels_) of_level.push_back(warm_covariance(scales, at, level));
  Eigen::VectorXd result(count());
  for (std::size_t i = 0; i < level_of_.size(); ++i) result(static_cast<Eigen::Index>(i)) = of_level[level_of_[i]];
  return result;
}

std::vector<double> Response::warm_means(std::span<const Query> queries) const {
  std::vector<double> result;
  result.reserve(queries.size());
  for (const Query& query : queries) {
    const Query at{rounded(query.drive), query.direction};
    result.push_back(shares_.dot(means(at, true)));
  }
  return result;
}

Eigen::MatrixXd Response::whitened_crosses(const Posterior& posterior, std::span<const Query> queries) const {
  Eigen::MatrixXd result(count(), static_cast<Eigen::Index>(queries.size()));
  for (std::size_t q = 0; q < queries.size(); ++q) {
    result.col(static_cast<Eigen::Index>(q)) = cross(posterior.scales(), queries[q]);
  }
  posterior.whiten(result);
  return result;
}

std::vector<Estimate> Response::warm(std::span<const Query> queries) const {
  const auto n = static_cast<Eigen::Index>(queries.size());
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(n);
  Eigen::VectorXd square_mean = Eigen::VectorXd::Zero(n);  // about the best one's mean, for the digits' sake
  Eigen::VectorXd centre;
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    const Posterior& posterior = posteriors_[k];
    const double share = shares_(static_cast<Eigen::Index>(k));
    const Eigen::MatrixXd whitened = whitened_crosses(posterior, queries);
    const Eigen::VectorXd its_mean = whitened.transpose() * posterior.whitened();
    if (k == 0) centre = its_mean;
    mean += share * its_mean;
    for (Eigen::Index q = 0; q < n; ++q) {
      const Query& query = queries[static_cast<std::size_t>(q)];
      const Query at{rounded(query.drive), query.direction};
      const double prior = warm_covariance(posterior.scales(), at, Level{at.drive, at.direction});
      const double within = std::max(prior - whitened.col(q).squaredNorm(), least_variance);
      square_mean(q) += share * (within + square(its_mean(q) - centre(q)));
    }
  }
  std::vector<Estimate> result;
  result.reserve(queries.size());
  for (Eigen::Index q = 0; q < n; ++q) {
    const double variance = square_mean(q) - square(mean(q) - centre(q));
    result.push_back(Estimate{mean(q), std::sqrt(std::max(variance, least_variance))});
  }
  return result;
}

Response::Outlook Response::outlook(const Posterior& posterior, std::span<const Query> queries,
                                    double running_s) const {
  const ResponseScales& scales = posterior.scales();
  const auto n = static_cast<Eigen::Index>(queries.size());
  Outlook result{whitened_crosses(posterior, queries), Eigen::MatrixXd(count(), n), Eigen::VectorXd(n)};
  std::vector<Observation> future;
  for (Eigen::Index i = 0; i < n; ++i) {
    const Query& query = queries[static_cast<std::size_t>(i)];
    const double speed = std::max(result.of_warm.col(i).dot(posterior.whitened()), 0.0);
    future.push_back(Observation{query.drive, query.direction, speed, running_s, 0});
  }
  for (Eigen::Index row = 0; row < count(); ++row) {
    const Observation& seen = observations_[static_cast<std::size_t>(row)];
    const double fading = kernel::fading(running_s + seen.running_s);
    const double lasting = kernel::lasting(std::abs(running_s - seen.running_s));
    for (Eigen::Index i = 0; i < n; ++i) {
      result.of_pass(row, i) = kernel::passing(scales, future[static_cast<std::size_t>(i)], seen, fading, lasting);
    }
  }
  posterior.whiten(result.of_pass);
  result.of_pass += result.of_warm;
  const double fading = kernel::fading(2 * running_s);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Observation& pass = future[static_cast<std::size_t>(i)];
    const Query at{rounded(pass.drive), pass.direction};
    const double prior = warm_covariance(scales, at, Level{at.drive, at.direction}) +
                         kernel::passing(scales, pass, pass, fading, kernel::lasting(0)) + square(scales.scatter) +
                         square(scales.repeatability * pass.speed);
    result.variance(i) = std::max(prior - result.of_pass.col(i).squaredNorm(), least_variance);
  }
  return result;
}

Eigen::MatrixXd Response::gains(std::span<const Query> queries, double running_s) const {
  const auto n = static_cast<Eigen::Index>(queries.size());
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    const Outlook ahead = outlook(posteriors_[k], queries, running_s);
    Eigen::MatrixXd covariance = -(ahead.of_warm.transpose() * ahead.of_pass);
    for (Eigen::Index i = 0; i < n; ++i) {
      const Query& query = queries[static_cast<std::size_t>(i)];
      const Query at{rounded(query.drive), query.direction};
      for (Eigen::Index j = 0; j <= i; ++j) {
        const Query& other = queries[static_cast<std::size_t>(j)];
        const Level level{rounded(other.drive), other.direction};
        const double prior = warm_covariance(posteriors_[k].scales(), at, level);
        covariance(i, j) += prior;
        if (j < i) covariance(j, i) += prior;
      }
    }
    const double share = shares_(static_cast<Eigen::Index>(k));
    for (Eigen::Index i = 0; i < n; ++i) {
      sum.col(i) += (share / ahead.variance(i) * covariance.col(i).array().square()).matrix();
    }
  }
  return sum;
}

std::vector<double> Response::own_gains(std::span<const Query> queries, double running_s) const {
  std::vector<double> sum(queries.size(), 0.0);
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    const Outlook ahead = outlook(posteriors_[k], queries, running_s);
    for (std::size_t q = 0; q < queries.size(); ++q) {
      const auto i = static_cast<Eigen::Index>(q);
      const Query at{rounded(queries[q].drive), queries[q].direction};
      const double prior = warm_covariance(posteriors_[k].scales(), at, Level{at.drive, at.direction});
      const double covariance = prior - ahead.of_warm.col(i).dot(ahead.of_pass.col(i));
      sum[q] += shares_(static_cast<Eigen::Index>(k)) * square(covariance) / ahead.variance(i);
    }
  }
  return sum;
}

Estimate Response::reading(const Query& query, double running_s) const {
  const std::array<Query, 1> one = {query};
  const Outlook ahead = outlook(best(), one, running_s);
  const Eigen::VectorXd& readings = best().whitened();
  const double warm = std::max(ahead.of_warm.col(0).dot(readings), 0.0);
  const double mean = ahead.of_pass.col(0).dot(readings) + kernel::expected_lack(best().scales(), warm, running_s);
  return Estimate{mean, std::sqrt(ahead.variance(0))};
}

double Response::longest_s() const {
  double longest = 0;
  for (const Observation& seen : observations_) longest = std::max(longest, seen.running_s);
  return longest;
}

double Response::doubtful_sd(double speed) const {
  const double still_cold =
      std::hypot(scales_.warming, scales_.warming_share * speed) * kernel::still_cold(longest_s());
  return std::hypot(shape_of_warming_doubt * still_cold, wander_doubt * scales_.wander * kernel::wander_scale(speed));
}

}  // namespace lapwright
