// The response of one engine: drive in, speed out, a curve for each direction with its uncertainty, warming removed.
#pragma once

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "tuning/levels.h"
#include "tuning/observation.h"
#include "tuning/posterior.h"
#include "tuning/response_scales.h"

namespace lapwright {

/// A Gaussian process over drive × direction × running time, averaged over the sets of scales that explain the passes
/// about equally well: early on, a warming engine and a bent curve look alike. At most a few hundred passes; another
/// one costs their number squared, a fit its cube.
class Response {
 public:
  /// Before the first pass: scales that an earlier session with the engine has found.
  void assume(const ResponseScales& scales);
  void add(const Observation& observation);
  /// Searches the scales anew and drops at most one outlier. Call now and then.
  void refit();
  /// Estimates for the warm engine, in the order of the queries.
  [[nodiscard]] std::vector<Estimate> warm(std::span<const Query> queries) const;
  /// Their means alone, units: much cheaper.
  [[nodiscard]] std::vector<double> warm_means(std::span<const Query> queries) const;
  /// Mean of the warm curve itself, free of one drive level's own deviation and of the decoder's rounding.
  [[nodiscard]] double curve(const Query& query) const;
  /// What a pass taken at `running_s` would read: with warming, wander and the scatter of one pass.
  [[nodiscard]] Estimate reading(const Query& query, double running_s) const;
  /// By how much the latest earlier session ran faster than the engine does today, at each query.
  [[nodiscard]] std::vector<Estimate> shifts(std::span<const Query> queries) const;
  /// What earlier sessions have told is not of this engine and decoder, or they have changed.
  void forget_earlier();
  /// By how much one further pass at each query, taken at `running_s`, would narrow each warm estimate: the reduction
  /// of variance in units squared, estimates × passes.
  [[nodiscard]] Eigen::MatrixXd gains(std::span<const Query> queries, double running_s) const;
  /// Its diagonal: what a pass does for the estimate at its own query.
  [[nodiscard]] std::vector<double> own_gains(std::span<const Query> queries, double running_s) const;
  [[nodiscard]] double longest_s() const { return longest_s_; }  ///< running time of this session's latest pass
  /// What the model's own assumptions may be wrong by: the shapes of warming and wander are nobody's law; units.
  [[nodiscard]] double doubtful_sd(double speed) const;

  [[nodiscard]] std::size_t size() const { return observations_.size(); }
  [[nodiscard]] std::span<const Observation> observations() const { return observations_; }
  /// At exactly the drive that the query is rounded to, in this session or in all.
  [[nodiscard]] int passes_at(const Query& query, bool earlier_too = false) const;
  [[nodiscard]] const ResponseScales& scales() const { return scales_; }
  [[nodiscard]] double slope() const { return slope_; }  ///< units of speed per count of drive, overall
  /// Units of speed by which the engine stays behind the straight line from standing: what friction costs, unless the
  /// decoder makes up for it or adds to it.
  [[nodiscard]] double friction_loss() const;
  [[nodiscard]] std::size_t dropped() const { return dropped_; }
  /// Drive as the decoder is thought to round it.
  [[nodiscard]] double rounded(double drive) const { return scales_.rounding(drive); }

 private:
  [[nodiscard]] Eigen::Index count() const { return static_cast<Eigen::Index>(observations_.size()); }
  [[nodiscard]] Eigen::VectorXd speeds() const;
  [[nodiscard]] Posterior& best() const { return posteriors_.front(); }
  [[nodiscard]] Query rounded(const Query& query) const { return Query{rounded(query.drive), query.direction}; }
  [[nodiscard]] std::vector<Query> rounded(std::span<const Query> queries) const;
  /// What further passes would read, seen from one posterior.
  struct Outlook {
    Eigen::MatrixXd of_warm;   // whitened covariances of the warm estimates, observations × queries
    Eigen::MatrixXd of_pass;   // of passes at the time asked for
    Eigen::VectorXd variance;  // of those passes
  };
  [[nodiscard]] Outlook outlook(Posterior& posterior, std::span<const Query> rounded, double running_s) const;
  [[nodiscard]] Eigen::VectorXd means(const Query& query, bool of_the_level) const;
  bool steeper();
  void rebuild();
  void believe(const std::vector<WeighedScales>& rivals);
  void search_rounding(ScaleSearch& search);
  bool drop_outlier();

  std::vector<Observation> observations_;
  mutable Levels levels_;  // it remembers queries
  kernel::Parts parts_;
  ResponseScales scales_;  // the best ones
  std::vector<WeighedScales> rivals_ = {WeighedScales{}};
  mutable std::vector<Posterior> posteriors_;  // one for each of the rivals, in their order; they remember queries
  Eigen::VectorXd shares_;                     // of the rivals, summing to 1
  double slope_ = 0.25;
  double longest_s_ = 0;
  std::size_t dropped_ = 0;
};

}  // namespace lapwright
