// What the response model assumes about engines, written as covariances of speeds: curve, warming, wander, one level.
#pragma once

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "tuning/observation.h"

namespace lapwright::kernel {

[[nodiscard]] double sign(Direction direction);

/// A drive in one direction, with its exponentials: `shape` is asked for so often that it must not take any.
struct Place {
  Place(double of_drive, Direction of_direction);
  double drive;  ///< counts
  double sign;
  double grown;    ///< exp(drive over the bend's length)
  double decayed;  ///< its inverse
};

[[nodiscard]] bool same_level(const Place& a, const Place& b);
/// Line through the origin and offset, each a little different in the two directions.
[[nodiscard]] double trend(double slope, const Place& a, const Place& b);
/// Deviation from that line, in squared scales of `ResponseScales::shape`: smooth over tens of counts.
[[nodiscard]] double shape(const Place& a, const Place& b);
/// Of the warm speeds at two places: line, bend and the deviation of one level.
[[nodiscard]] double warm_covariance(const ResponseScales& scales, double slope, const Place& a, const Place& b);
/// How far warming ties two moments together, both counted in running time. It depends on their sum only.
[[nodiscard]] double fading(double running_sum_s);
/// How far wander ties two moments together that are so far apart.
[[nodiscard]] double lasting(double apart_s);
/// By how much the speeds of an earlier session lie beside today's: two of one session share it, one level besides has
/// a little of its own. An engine that wanders while it runs has wandered further in between.
[[nodiscard]] double session_shift(const ResponseScales& scales, double speed, Direction direction);
/// Cold against warm: what every speed lacks by the same amount, in squared scales of `warming`.
[[nodiscard]] double warming(const Observation& a, const Observation& b, double fading);
/// What comes and goes in minutes, in squared scales of `wander`.
[[nodiscard]] double wander(const Observation& a, const Observation& b, double lasting);
/// By how much a pass is expected to be slower than the warm engine, units; negative. That engines run faster when
/// warm is common practice, no source; by how much and how long differs, and some don't.
[[nodiscard]] double expected_lack(const ResponseScales& scales, double speed, double running_s);
/// All that belongs to the moment and not to the warm engine: warming of both kinds and wander.
[[nodiscard]] double passing(const ResponseScales& scales, const Observation& a, const Observation& b, double fading,
                             double lasting);
/// `passing` of one pass, made at `running_s`, with every observation is a weighted sum of these few columns, whatever
/// the pass's drive: observations × `moment_terms`.
constexpr int moment_terms = 5;
[[nodiscard]] Eigen::MatrixXd moment_columns(std::span<const Observation> observations, double running_s);
using MomentWeights = Eigen::Matrix<double, moment_terms, 1>;
[[nodiscard]] MomentWeights moment_weights(const ResponseScales& scales, double speed, Direction direction);
[[nodiscard]] double wander_scale(double speed);
/// Share of the warming that a long-warmed engine still has ahead of it after so much running.
[[nodiscard]] double still_cold(double running_s);

/// Covariance of the observations divided into the parts that the scales weigh. Only lower triangles are filled.
class Parts {
 public:
  void rebuild(std::span<const Observation> observations, double slope, const Rounding& rounding);
  /// Adds the row of the last observation.
  void append(std::span<const Observation> observations, double slope, const Rounding& rounding);
  /// The same observations as a decoder that rounds otherwise takes their drives.
  void round_to(std::span<const Observation> observations, double slope, const Rounding& rounding);
  [[nodiscard]] Eigen::Index size() const { return size_; }
  /// Covariance of each pass with the shift of the latest session before this one, at a place that ran at that speed.
  [[nodiscard]] Eigen::VectorXd shifts(const ResponseScales& scales, std::span<const Observation> observations,
                                       const Place& at, double speed) const;
  /// Lower triangle of the weighted sum, noise included, into the top left corner of `sum` (at least size × size).
  void sum_into(Eigen::Ref<Eigen::MatrixXd> sum, const ResponseScales& scales, double slope) const;
  /// Last row of that sum; its last element is the observation's own variance.
  [[nodiscard]] Eigen::VectorXd last_row(const ResponseScales& scales, double slope) const;
  /// Of each observation; see `expected_lack`.
  [[nodiscard]] Eigen::VectorXd lacks(const ResponseScales& scales) const;
  [[nodiscard]] double last_lack(const ResponseScales& scales) const { return lack(size_ - 1, scales); }

 private:
  [[nodiscard]] double lack(Eigen::Index row, const ResponseScales& scales) const;
  void reserve(Eigen::Index rows);
  void fill_row(std::span<const Observation> observations, Eigen::Index row, double slope, const Rounding& rounding);
  void fill_session(std::span<const Observation> observations, Eigen::Index row);
  void fill_drives(const Observation& observation, Eigen::Index row, double slope, const Rounding& rounding);
  [[nodiscard]] double noise(Eigen::Index row, const ResponseScales& scales) const;

  Eigen::Index size_ = 0;
  std::vector<Place> places_;                                                 // of the observations
  Eigen::MatrixXd trend_, shape_, warming_, warming_share_, wander_, level_;  // with room to grow
  Eigen::MatrixXd shift_, wandered_;  // of sessions; empty while all passes are of this one
  Eigen::VectorXd speed_, running_s_, timing_squared_;
};

}  // namespace lapwright::kernel
