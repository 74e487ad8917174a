#include "tuning/response_kernel.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace lapwright::kernel {
namespace {

constexpr double offset = 5;                      // units: a straight line's speed at no drive, either way
constexpr double bend = 2.2360679774997896 / 60;  // √5 over the counts in which the curve's bend is felt
// They span what engines show. What is slower than the second is rarely much: the motor's inside, a heavy frame.
struct Fading {
  double tau_s;
  double share;     // of the variance
  double expected;  // share of the expected lack
};
constexpr std::array<Fading, 3> warming_fades = {{{110, 0.5, 0.3}, {320, 0.48, 0.6}, {800, 0.02, 0.1}}};
constexpr double expected_share = 0.8;  // of the warming scales, that a cold engine is slower by
constexpr std::array<double, 2> wander_s = {15, 100};
constexpr double stiffer_direction = 0.1;  // share of the warming by which one direction may differ
constexpr double level_tolerance = 1e-4;   // counts
// From one session to another: temper of the room, track voltage, oil. Assumptions, wide beside what a regulated engine
// does; the first passes of the day replace them.
constexpr double shifts_by = 0.06;         // units
constexpr double shifts_by_share = 0.012;  // of speed
constexpr double turned_shift = 0.15;      // share of the variance that the directions don't share
constexpr double level_shifts_by = 0.01;   // units
constexpr double level_shifts_by_share = 0.003;
constexpr double wanders_between = 0.6;  // of the scale of wander
constexpr double warms_alike = 0.97;     // correlation of two sessions' warming: by a quarter of it they may differ
constexpr Eigen::Index first_rows = 64;
constexpr double jitter = 1e-6;  // units squared: keeps repeated observations factorable

double square(double value) { return value * value; }

double direction_factor(const Observation& a, const Observation& b) {
  return 1 + stiffer_direction * sign(a.direction) * sign(b.direction);
}

/// What two speeds of one earlier session share.
double shifted(double speed_a, double speed_b, double sign_a, double sign_b) {
  const double both = square(shifts_by) + square(shifts_by_share) * speed_a * speed_b;
  return both * (1 - turned_shift + turned_shift * sign_a * sign_b);
}

double level_shifted(double speed_a, double speed_b) {
  return square(level_shifts_by) + square(level_shifts_by_share) * speed_a * speed_b;
}

/// In squared scales of `wander`.
double wandered_between(double speed_a, double speed_b) {
  return square(wanders_between) * wander_scale(speed_a) * wander_scale(speed_b);
}

}  // namespace

double sign(Direction direction) { return direction == Direction::forward ? 1.0 : -1.0; }

Place::Place(double of_drive, Direction of_direction)
    : drive(of_drive), sign(kernel::sign(of_direction)), grown(std::exp(bend * of_drive)), decayed(1 / grown) {}

bool same_level(const Place& a, const Place& b) {
  return a.sign == b.sign && std::abs(a.drive - b.drive) < level_tolerance;
}

double trend(double slope, const Place& a, const Place& b) {
  const double slopes = square(slope) * a.drive * b.drive;
  return square(offset) + slopes + a.sign * b.sign * (0.36 + 0.0036 * slopes);
}

double shape(const Place& a, const Place& b) {
  const double r = bend * std::abs(a.drive - b.drive);
  const double decay = std::min(a.grown * b.decayed, a.decayed * b.grown);  // exp(-r)
  return (1 + r + r * r / 3) * decay * (1 + 0.09 * a.sign * b.sign);
}

double warm_covariance(const ResponseScales& scales, double slope, const Place& a, const Place& b) {
  const double of_level = same_level(a, b) ? square(scales.cell * slope) : 0.0;
  return trend(slope, a, b) + square(scales.shape) * shape(a, b) + of_level;
}

double session_shift(const ResponseScales& scales, double speed, Direction direction) {
  const double turn = sign(direction);
  return shifted(speed, speed, turn, turn) + level_shifted(speed, speed) +
         square(scales.wander) * wandered_between(speed, speed);
}

double fading(double running_sum_s) {
  double sum = 0;
  for (const Fading& fade : warming_fades) sum += fade.share * std::exp(-running_sum_s / fade.tau_s);
  return sum;
}

double lasting(double apart_s) {
  double sum = 0;
  for (const double tau : wander_s) sum += std::exp(-apart_s / tau);
  return 0.5 * sum;
}

double warming(const Observation& a, const Observation& b, double fading) { return direction_factor(a, b) * fading; }

double wander_scale(double speed) { return 0.02 + 0.002 * speed; }

double wander(const Observation& a, const Observation& b, double lasting) {
  return wander_scale(a.speed) * wander_scale(b.speed) * lasting;
}

double expected_lack(const ResponseScales& scales, double speed, double running_s) {
  double left = 0;
  for (const Fading& fade : warming_fades) left += fade.expected * std::exp(-running_s / fade.tau_s);
  return -expected_share * (scales.warming + scales.warming_share * speed) * left;
}

double passing(const ResponseScales& scales, const Observation& a, const Observation& b, double fading,
               double lasting) {
  const double of_warming = square(scales.warming) + square(scales.warming_share) * a.speed * b.speed;
  return of_warming * warming(a, b, fading) + square(scales.wander) * wander(a, b, lasting);
}

Eigen::MatrixXd moment_columns(std::span<const Observation> observations, double running_s) {
  Eigen::MatrixXd result(static_cast<Eigen::Index>(observations.size()), moment_terms);
  for (Eigen::Index row = 0; row < result.rows(); ++row) {
    const Observation& seen = observations[static_cast<std::size_t>(row)];
    const bool today = seen.sessions_ago == 0;
    const double left = fading(running_s + seen.running_s) * (today ? 1 : warms_alike);
    const double turned = left * sign(seen.direction);
    const double wandered = today ? wander_scale(seen.speed) * lasting(std::abs(running_s - seen.running_s)) : 0;
    result.row(row) << left, turned, left * seen.speed, turned * seen.speed, wandered;
  }
  return result;
}

MomentWeights moment_weights(const ResponseScales& scales, double speed, Direction direction) {
  const double of_direction = stiffer_direction * sign(direction);
  const double alike = square(scales.warming);
  const double shared = square(scales.warming_share) * speed;
  MomentWeights result;
  result << alike, alike * of_direction, shared, shared * of_direction, square(scales.wander) * wander_scale(speed);
  return result;
}

double still_cold(double running_s) { return std::exp(-running_s / warming_fades.back().tau_s); }

void Parts::reserve(Eigen::Index rows) {
  if (rows <= speed_.size()) return;
  const Eigen::Index room = std::max({first_rows, rows, 2 * speed_.size()});
  for (auto* matrix : {&trend_, &shape_, &warming_, &warming_share_, &wander_, &level_}) {
    matrix->conservativeResize(room, room);
  }
  for (auto* vector : {&speed_, &running_s_, &timing_squared_}) vector->conservativeResize(room);
}

void Parts::fill_drives(const Observation& observation, Eigen::Index row, double slope, const Rounding& rounding) {
  places_.emplace_back(rounding(observation.drive), observation.direction);
  for (Eigen::Index column = 0; column <= row; ++column) {
    const Place& other = places_[static_cast<std::size_t>(column)];
    trend_(row, column) = trend(slope, places_.back(), other);
    shape_(row, column) = shape(places_.back(), other);
    level_(row, column) = same_level(places_.back(), other) ? 1.0 : 0.0;
  }
}

void Parts::fill_row(std::span<const Observation> observations, Eigen::Index row, double slope,
                     const Rounding& rounding) {
  const Observation& a = observations[static_cast<std::size_t>(row)];
  fill_drives(a, row, slope, rounding);
  for (Eigen::Index column = 0; column <= row; ++column) {
    const Observation& b = observations[static_cast<std::size_t>(column)];
    const bool together = a.sessions_ago == b.sessions_ago;
    warming_(row, column) = warming(a, b, fading(a.running_s + b.running_s)) * (together ? 1 : warms_alike);
    warming_share_(row, column) = a.speed * b.speed * warming_(row, column);
    wander_(row, column) = together ? wander(a, b, lasting(std::abs(a.running_s - b.running_s))) : 0;
  }
  fill_session(observations, row);
  timing_squared_(row) = square(a.timing_sd);
  speed_(row) = a.speed;
  running_s_(row) = a.running_s;
}

void Parts::fill_session(std::span<const Observation> observations, Eigen::Index row) {
  const Observation& a = observations[static_cast<std::size_t>(row)];
  if (shift_.rows() == 0 && a.sessions_ago == 0) return;
  for (auto* matrix : {&shift_, &wandered_}) {
    if (matrix->rows() <= row) {
      const Eigen::Index held = matrix->rows();
      const Eigen::Index fresh = wander_.rows() - held;
      matrix->conservativeResize(wander_.rows(), wander_.rows());
      matrix->bottomRows(fresh).setZero();
      matrix->rightCols(fresh).setZero();
    }
    matrix->row(row).setZero();
  }
  if (a.sessions_ago == 0) return;
  for (Eigen::Index column = 0; column <= row; ++column) {
    const Observation& b = observations[static_cast<std::size_t>(column)];
    if (a.sessions_ago != b.sessions_ago) continue;
    shift_(row, column) = shifted(a.speed, b.speed, sign(a.direction), sign(b.direction)) +
                          level_(row, column) * level_shifted(a.speed, b.speed);
    wandered_(row, column) = wandered_between(a.speed, b.speed);
  }
}

Eigen::VectorXd Parts::shifts(const ResponseScales& scales, std::span<const Observation> observations, const Place& at,
                              double speed) const {
  Eigen::VectorXd result = Eigen::VectorXd::Zero(size_);
  for (Eigen::Index row = 0; row < size_; ++row) {
    const Observation& seen = observations[static_cast<std::size_t>(row)];
    if (seen.sessions_ago != 1) continue;
    result(row) = shifted(speed, seen.speed, at.sign, sign(seen.direction)) +
                  square(scales.wander) * wandered_between(speed, seen.speed);
    if (same_level(at, places_[static_cast<std::size_t>(row)])) result(row) += level_shifted(speed, seen.speed);
  }
  return result;
}

void Parts::rebuild(std::span<const Observation> observations, double slope, const Rounding& rounding) {
  size_ = static_cast<Eigen::Index>(observations.size());
  reserve(size_);
  places_.clear();
  shift_.resize(0, 0);
  wandered_.resize(0, 0);
  for (Eigen::Index row = 0; row < size_; ++row) fill_row(observations, row, slope, rounding);
}

void Parts::round_to(std::span<const Observation> observations, double slope, const Rounding& rounding) {
  places_.clear();
  for (Eigen::Index row = 0; row < size_; ++row) {
    fill_drives(observations[static_cast<std::size_t>(row)], row, slope, rounding);
  }
}

void Parts::append(std::span<const Observation> observations, double slope, const Rounding& rounding) {
  size_ = static_cast<Eigen::Index>(observations.size());
  reserve(size_);
  fill_row(observations, size_ - 1, slope, rounding);
}

Eigen::VectorXd Parts::lacks(const ResponseScales& scales) const {
  Eigen::VectorXd result(size_);
  for (Eigen::Index row = 0; row < size_; ++row) result(row) = lack(row, scales);
  return result;
}

double Parts::lack(Eigen::Index row, const ResponseScales& scales) const {
  return expected_lack(scales, speed_(row), running_s_(row));
}

double Parts::noise(Eigen::Index row, const ResponseScales& scales) const {
  return square(scales.repeatability * speed_(row)) + timing_squared_(row) + square(scales.scatter) + jitter;
}

void Parts::sum_into(Eigen::Ref<Eigen::MatrixXd> sum, const ResponseScales& scales, double slope) const {
  const double of_shape = square(scales.shape);
  const double of_warming = square(scales.warming);
  const double of_share = square(scales.warming_share);
  const double of_wander = square(scales.wander);
  const double of_level = square(scales.cell * slope);
  for (Eigen::Index column = 0; column < size_; ++column) {
    const Eigen::Index below = size_ - column;
    sum.col(column).segment(column, below) =
        trend_.col(column).segment(column, below) + of_shape * shape_.col(column).segment(column, below) +
        of_warming * warming_.col(column).segment(column, below) +
        of_share * warming_share_.col(column).segment(column, below) +
        of_wander * wander_.col(column).segment(column, below) + of_level * level_.col(column).segment(column, below);
    if (shift_.rows() > 0) {
      sum.col(column).segment(column, below) +=
          shift_.col(column).segment(column, below) + of_wander * wandered_.col(column).segment(column, below);
    }
    sum(column, column) += noise(column, scales);
  }
}

Eigen::VectorXd Parts::last_row(const ResponseScales& scales, double slope) const {
  const Eigen::Index row = size_ - 1;
  Eigen::VectorXd sum =
      (trend_.row(row).head(size_) + square(scales.shape) * shape_.row(row).head(size_) +
       square(scales.warming) * warming_.row(row).head(size_) +
       square(scales.warming_share) * warming_share_.row(row).head(size_) +
       square(scales.wander) * wander_.row(row).head(size_) + square(scales.cell * slope) * level_.row(row).head(size_))
          .transpose();
  if (shift_.rows() > 0) {
    sum += (shift_.row(row).head(size_) + square(scales.wander) * wandered_.row(row).head(size_)).transpose();
  }
  sum(row) += noise(row, scales);
  return sum;
}

}  // namespace lapwright::kernel
