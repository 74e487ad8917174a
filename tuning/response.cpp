#include "tuning/response.h"

#include <algorithm>
#include <array>
#include <boost/math/statistics/linear_regression.hpp>
#include <cmath>
#include <limits>

namespace lapwright {
namespace {

constexpr std::size_t outliers_at_most = 4;
constexpr std::size_t fit_from = 4;       // passes
constexpr std::size_t outliers_from = 8;  // passes
constexpr double outlier_z = 4.5;
constexpr std::size_t rounding_until = 100;     // passes: by then it is told if it can be
constexpr double rounding_evidence = 3;         // twenty to one: a claim about the decoder's rounding wants evidence
constexpr double shape_of_warming_doubt = 0.2;  // of what is still cold
constexpr double wander_doubt = 0.3;
constexpr double straight_from = 3.5;  // units
constexpr double least_spread = 10;    // counts: a line through drives that are closer means little
constexpr double usual_loss = 1;       // units, of an engine of which little is known
constexpr double greatest_loss = 8;    // units

// Eight to ten bits: full drive is all ones, or the 255 of the table shifted up.
constexpr std::array<Rounding, 11> roundings = {{{},
                                                 {255.0 / 1023, false},
                                                 {255.0 / 1023, true},
                                                 {0.25, false},
                                                 {0.25, true},
                                                 {255.0 / 511, false},
                                                 {255.0 / 511, true},
                                                 {0.5, false},
                                                 {0.5, true},
                                                 {1, false},
                                                 {1, true}}};

double square(double value) { return value * value; }

}  // namespace

Eigen::VectorXd Response::speeds() const {
  Eigen::VectorXd result(count());
  for (Eigen::Index i = 0; i < count(); ++i) result(i) = observations_[static_cast<std::size_t>(i)].speed;
  return result;
}

void Response::rebuild() {
  levels_.clear();
  for (const Observation& seen : observations_) levels_.note(rounded(seen.drive), seen.direction);
  parts_.rebuild(observations_, slope_, scales_.rounding);
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
    posterior.gather(levels_);
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

void Response::assume(const ResponseScales& scales) {
  scales_ = scales;
  rivals_ = {WeighedScales{scales, 1}};
}

void Response::add(const Observation& observation) {
  observations_.push_back(observation);
  if (observation.sessions_ago == 0) longest_s_ = std::max(longest_s_, observation.running_s);
  if (steeper() || observations_.size() == 1) {
    rebuild();
    believe(rivals_);
    return;
  }
  levels_.note(rounded(observation.drive), observation.direction);
  parts_.append(observations_, slope_, scales_.rounding);
  for (Posterior& posterior : posteriors_) {
    posterior.append(parts_, observation.speed);
    posterior.gather(levels_);
  }
}

void Response::refit() {
  if (observations_.size() < fit_from) return;
  // Before the scales are searched: they would stretch to explain the wild reading.
  drop_outlier();
  const Eigen::VectorXd readings = speeds();
  ScaleSearch search(readings, slope_, friction_loss());
  scales_ = search.climb(parts_, scales_);
  if (observations_.size() <= rounding_until) search_rounding(search);
  believe(search.rivals(parts_, scales_));
  drop_outlier();
}

void Response::search_rounding(ScaleSearch& search) {
  const Rounding held = scales_.rounding;
  double best_evidence = -std::numeric_limits<double>::infinity();
  for (const Rounding& rounding : roundings) {
    parts_.round_to(observations_, slope_, rounding);
    const double price = rounding.noticeable() ? rounding_evidence : 0.0;
    const double evidence = search.evidence(parts_, scales_) - price;
    if (evidence < best_evidence || (evidence == best_evidence && rounding != held)) continue;
    best_evidence = evidence;
    scales_.rounding = rounding;
  }
  if (scales_.rounding != held) {
    rebuild();
  } else {
    parts_.round_to(observations_, slope_, held);
  }
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
  const Ties& ties = levels_.ties(query, slope_);
  Eigen::VectorXd result(static_cast<Eigen::Index>(posteriors_.size()));
  Eigen::Index place = 0;
  for (const Posterior& posterior : posteriors_) {
    const ResponseScales& scales = posterior.scales();
    const Eigen::VectorXd& weights = posterior.level_weights();
    double mean = weights.dot(ties.trend) + square(scales.shape) * weights.dot(ties.shape);
    if (of_the_level && ties.same >= 0) mean += square(scales.cell * slope_) * weights(ties.same);
    result(place++) = mean;
  }
  return result;
}

double Response::curve(const Query& query) const { return shares_.dot(means(query, false)); }

int Response::passes_at(const Query& query, bool earlier_too) const {
  const Eigen::Index level = levels_.level_of(rounded(query));
  int passes = 0;
  for (std::size_t i = 0; i < observations_.size(); ++i) {
    const bool counts = earlier_too || observations_[i].sessions_ago == 0;
    if (counts && levels_.of_passes()[i] == level) ++passes;
  }
  return passes;
}

std::vector<Estimate> Response::shifts(std::span<const Query> queries) const {
  const std::vector<double> speeds = warm_means(queries);
  std::vector<Estimate> result;
  for (std::size_t i = 0; i < queries.size(); ++i) {
    const kernel::Place at(rounded(queries[i].drive), queries[i].direction);
    double mean = 0;
    double square_mean = 0;
    for (std::size_t k = 0; k < posteriors_.size(); ++k) {
      const ResponseScales& scales = posteriors_[k].scales();
      const double prior = kernel::session_shift(scales, speeds[i], queries[i].direction);
      Eigen::MatrixXd whitened = parts_.shifts(scales, observations_, at, speeds[i]);
      posteriors_[k].whiten(whitened);
      const double its_mean = whitened.col(0).dot(posteriors_[k].whitened());
      const double share = shares_(static_cast<Eigen::Index>(k));
      mean += share * its_mean;
      square_mean += share * (square(its_mean) + std::max(prior - whitened.squaredNorm(), least_variance));
    }
    result.push_back(Estimate{mean, std::sqrt(std::max(square_mean - square(mean), least_variance))});
  }
  return result;
}

void Response::forget_earlier() {
  std::erase_if(observations_, [](const Observation& seen) { return seen.sessions_ago > 0; });
  dropped_ = 0;
  posteriors_.clear();
  steeper();
  rebuild();
  if (!observations_.empty()) believe(rivals_);
}

std::vector<Query> Response::rounded(std::span<const Query> queries) const {
  std::vector<Query> result;
  result.reserve(queries.size());
  for (const Query& query : queries) result.push_back(rounded(query));
  return result;
}

std::vector<double> Response::warm_means(std::span<const Query> queries) const {
  std::vector<double> result;
  result.reserve(queries.size());
  for (const Query& query : queries) result.push_back(shares_.dot(means(rounded(query), true)));
  return result;
}

std::vector<Estimate> Response::warm(std::span<const Query> queries) const {
  const std::vector<Query> at = rounded(queries);
  const auto n = static_cast<Eigen::Index>(at.size());
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(n);
  Eigen::VectorXd square_mean = Eigen::VectorXd::Zero(n);  // about the best one's mean, for the digits' sake
  Eigen::VectorXd centre;
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    Posterior& posterior = posteriors_[k];
    const double share = shares_(static_cast<Eigen::Index>(k));
    const Eigen::MatrixXd whitened = posterior.crosses(at, levels_);
    const Eigen::VectorXd its_mean = whitened.transpose() * posterior.whitened();
    if (k == 0) centre = its_mean;
    mean += share * its_mean;
    for (Eigen::Index q = 0; q < n; ++q) {
      const double prior = posterior.prior(at[static_cast<std::size_t>(q)]);
      const double within = std::max(prior - whitened.col(q).squaredNorm(), least_variance);
      square_mean(q) += share * (within + square(its_mean(q) - centre(q)));
    }
  }
  std::vector<Estimate> result;
  result.reserve(at.size());
  for (Eigen::Index q = 0; q < n; ++q) {
    const double variance = square_mean(q) - square(mean(q) - centre(q));
    result.push_back(Estimate{mean(q), std::sqrt(std::max(variance, least_variance))});
  }
  return result;
}

Response::Outlook Response::outlook(Posterior& posterior, std::span<const Query> rounded, double running_s) const {
  const ResponseScales& scales = posterior.scales();
  const auto n = static_cast<Eigen::Index>(rounded.size());
  Outlook result{posterior.crosses(rounded, levels_), Eigen::MatrixXd(count(), n), Eigen::VectorXd(n)};
  Eigen::MatrixXd moments = kernel::moment_columns(observations_, running_s);
  posterior.whiten(moments);
  const double fading = kernel::fading(2 * running_s);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Query& query = rounded[static_cast<std::size_t>(i)];
    const double speed = std::max(result.of_warm.col(i).dot(posterior.whitened()), 0.0);
    const Observation pass{query.drive, query.direction, speed, running_s, 0};
    result.of_pass.col(i) = result.of_warm.col(i) + moments * kernel::moment_weights(scales, speed, query.direction);
    const double prior = posterior.prior(query) + kernel::passing(scales, pass, pass, fading, kernel::lasting(0)) +
                         square(scales.scatter) + square(scales.repeatability * speed);
    result.variance(i) = std::max(prior - result.of_pass.col(i).squaredNorm(), least_variance);
  }
  return result;
}

Eigen::MatrixXd Response::gains(std::span<const Query> queries, double running_s) const {
  const std::vector<Query> at = rounded(queries);
  const auto n = static_cast<Eigen::Index>(at.size());
  std::vector<kernel::Place> places;
  places.reserve(at.size());
  for (const Query& query : at) places.emplace_back(query.drive, query.direction);
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    const Outlook ahead = outlook(posteriors_[k], at, running_s);
    Eigen::MatrixXd covariance = -(ahead.of_warm.transpose() * ahead.of_pass);
    for (Eigen::Index i = 0; i < n; ++i) {
      for (Eigen::Index j = 0; j <= i; ++j) {
        const double prior = kernel::warm_covariance(
            posteriors_[k].scales(), slope_, places[static_cast<std::size_t>(i)], places[static_cast<std::size_t>(j)]);
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
  const std::vector<Query> at = rounded(queries);
  std::vector<double> sum(at.size(), 0.0);
  for (std::size_t k = 0; k < posteriors_.size(); ++k) {
    const Outlook ahead = outlook(posteriors_[k], at, running_s);
    for (std::size_t q = 0; q < at.size(); ++q) {
      const auto i = static_cast<Eigen::Index>(q);
      const double covariance = posteriors_[k].prior(at[q]) - ahead.of_warm.col(i).dot(ahead.of_pass.col(i));
      sum[q] += shares_(static_cast<Eigen::Index>(k)) * square(covariance) / ahead.variance(i);
    }
  }
  return sum;
}

Estimate Response::reading(const Query& query, double running_s) const {
  const std::array<Query, 1> one = {rounded(query)};
  const Outlook ahead = outlook(best(), one, running_s);
  const Eigen::VectorXd& readings = best().whitened();
  const double warm = std::max(ahead.of_warm.col(0).dot(readings), 0.0);
  const double mean = ahead.of_pass.col(0).dot(readings) + kernel::expected_lack(best().scales(), warm, running_s);
  return Estimate{mean, std::sqrt(ahead.variance(0))};
}

double Response::doubtful_sd(double speed) const {
  const double still_cold =
      std::hypot(scales_.warming, scales_.warming_share * speed) * kernel::still_cold(longest_s());
  return std::hypot(shape_of_warming_doubt * still_cold, wander_doubt * scales_.wander * kernel::wander_scale(speed));
}

}  // namespace lapwright
