// The response of one engine: drive in, speed out, a curve for each direction with its uncertainty, warming removed.
#pragma once

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "tuning/throttle.h"

namespace lapwright {

/// One pass as the model sees it. Speeds are in model units: the sheet's top speed is 18 units, whatever its scale.
struct Observation {
  double drive = 0;  ///< counts of 1/255 of full drive
  Direction direction = Direction::forward;
  double speed = 0;      ///< units
  double running_s = 0;  ///< how long the engine had run when the pass was taken
  double timing_sd = 0;  ///< units; standard uncertainty from time stamps and, unsettled, from a short run-up
};

struct Query {
  double drive = 0;
  Direction direction = Direction::forward;
};

/// Speed of the warm engine as the passes so far show it.
struct Estimate {
  double mean = 0;  ///< units
  double sd = 0;    ///< units
};

/// What the covariance assumes; found from the passes by marginal likelihood under weak log-normal priors.
struct ResponseScales {
  double shape = 0.5;            ///< units: deviation of the curve from a straight line
  double repeatability = 0.004;  ///< share of speed, from pass to pass
  double scatter = 0.01;         ///< units, from pass to pass whatever the speed
  double warming = 0.2;          ///< cold engine against warm, in steps of 1.5 units + 5 % of speed
  double wander = 0.5;           ///< slow wander, in steps of 0.02 units + 0.2 % of speed
  double cell = 0.1;             ///< counts: deviation of one drive level from the curve
  double quantum = 0;            ///< counts: the decoder rounds its drive to multiples of this; 0: not noticeable
};

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
