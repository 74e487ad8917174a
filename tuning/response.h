// The response of one engine: drive in, speed out, a curve for each direction with its uncertainty, warming removed.
#pragma once

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "tuning/observation.h"

namespace lapwright {

/// A Gaussian process over drive × direction × running time. At most a few hundred passes; the cost of a fit is the
/// Cholesky factor of their covariance.
class Response {
 public:
  void add(const Observation& observation);
  /// Searches the scales anew and drops at most one outlier. Call every few passes.
  void refit();
  /// Estimates for the warm engine, in the order of the queries.
  [[nodiscard]] std::vector<Estimate> warm(std::span<const Query> queries) const;
  /// Mean of the warm curve itself, free of one drive level's own deviation and of the decoder's rounding.
  [[nodiscard]] double curve(const Query& query) const;
  /// What a pass taken at `running_s` would read: with warming, wander and the scatter of one pass.
  [[nodiscard]] Estimate reading(const Query& query, double running_s) const;
  /// Covariances of the warm estimates (queries × queries), for choosing what to measure next.
  [[nodiscard]] Eigen::MatrixXd warm_covariance(std::span<const Query> queries) const;
  /// Standard uncertainty of one further pass at this speed, without what the model can explain; units.
  [[nodiscard]] double pass_sd(double speed) const;

  /// Standard deviation of the engine's slow wander at this speed; units.
  [[nodiscard]] double wander_sd(double speed) const;

  /// What the model's own assumptions may be wrong by: the shapes of warming and wander are nobody's law; units.
  [[nodiscard]] double doubtful_sd(double speed) const;

  [[nodiscard]] std::size_t size() const { return observations_.size(); }
  [[nodiscard]] std::span<const Observation> observations() const { return observations_; }
  [[nodiscard]] const ResponseScales& scales() const { return scales_; }
  [[nodiscard]] double slope() const { return slope_; }  ///< units of speed per count of drive, overall
  [[nodiscard]] std::size_t dropped() const { return dropped_; }
  /// Drive as the decoder is thought to round it.
  [[nodiscard]] double rounded(double drive) const;

 private:
  /// The covariance is a sum of these, weighted by the squared scales. Only lower triangles are filled.
  struct Bases {
    Eigen::MatrixXd trend, shape, warming, wander, cell;
    Eigen::VectorXd speed_squared, timing_squared;
  };
  void fill_row(Bases& bases, Eigen::Index row, double quantum) const;
  [[nodiscard]] Bases all_bases(double quantum) const;
  [[nodiscard]] Eigen::MatrixXd covariance(const Bases& bases, const ResponseScales& scales) const;
  [[nodiscard]] double log_evidence(const Bases& bases, const ResponseScales& scales) const;
  [[nodiscard]] Eigen::VectorXd cross(const Query& query) const;
  [[nodiscard]] double smooth_covariance(double drive, double other, double signs) const;
  [[nodiscard]] double prior_variance(const Query& query) const;
  [[nodiscard]] double trend(double drive, double other, double sign) const;
  void search_scales();
  void search_quantum(double best);
  void extend_bases();
  bool drop_outlier();
  void factorise();

  std::vector<Observation> observations_;
  Bases bases_;
  ResponseScales scales_;
  double slope_ = 0.25;
  std::size_t dropped_ = 0;
  Eigen::LLT<Eigen::MatrixXd> factor_;
  Eigen::VectorXd weights_;  // covariance⁻¹ · speeds
};

}  // namespace lapwright
