// What the passes of an inspection say: with what an earlier session knew of the engine, as long as they agree with it.
#include <algorithm>
#include <cmath>

#include "tuning/chance.h"
#include "tuning/inspector.h"

namespace lapwright {
namespace {

constexpr double counts_per_unit = 12;  // the table is not known: the sheet's speeds stand for drives
constexpr int least_passes = 2;
constexpr int most_passes = 6;
constexpr int nimble_passes = 4;
constexpr int passes_by_earlier = 3;  // of each cell, on average
constexpr int attempts_at_most = 4;
constexpr std::size_t passes_between_refits = 4;
constexpr double turned_s = 1.2;
constexpr double same_way_s = 3.5;
constexpr double two_sided_z = 1.96;
constexpr double surprising_sds = 3.5;
constexpr double surprising_share = 0.4;  // of tolerance

}  // namespace

void Inspector::assume_what_is_known() {
  if (order_.earlier) {
    trusts_earlier_ = true;
    response_.assume(order_.earlier->scales);
    for (const Observation& pass : order_.earlier->response.passes) response_.add(pass);
    response_.refit();
    return;
  }
  if (!order_.known) return;
  ResponseScales known = *order_.known;
  known.rounding = {};  // of drives, and these are none
  response_.assume(known);
}

Query Inspector::query_of(const StepAim& aim, Direction direction) const {
  if (!order_.earlier) return {aim.speed_mm_s / unit_mm_s_ * counts_per_unit, direction};
  const EarlierSession& earlier = *order_.earlier;
  const double value = value_of_step(earlier.settings, order_.mode, aim.step);
  return {drive_of_value(earlier.traits, earlier.settings, value, direction), direction};
}

double Inspector::expected_mm_s(const StepAim& aim, Direction direction) const {
  if (!trusts_earlier_) return aim.speed_mm_s;
  const Estimate reading = response_.reading(query_of(aim, direction), running_s());
  return std::max(reading.mean * unit_mm_s_, 0.5 * aim.speed_mm_s);
}

bool Inspector::surprises(const Inspected& cell, const Observation& pass) const {
  if (!trusts_earlier_) return false;
  const Estimate expected = response_.reading(query_of(cell.aim, cell.direction), pass.running_s);
  const double off = std::abs(pass.speed - expected.mean);
  return off > surprising_sds * expected.sd && off > surprising_share * cell.aim.tolerance_mm_s / unit_mm_s_;
}

bool Inspector::note(Inspected& cell, double speed_mm_s, double passed_at_s) {
  const double speed = speed_mm_s / unit_mm_s_;
  const double timing = std::sqrt(2.0) * order_.track.stamp_error_s * speed * speed_mm_s / trap_.base_mm;
  const Query query = query_of(cell.aim, cell.direction);
  const Observation pass{query.drive, cell.direction, speed, passed_at_s, timing};
  ++result_.passes;
  observer_.pass(cell.aim.step, cell.direction, speed_mm_s);
  if (surprises(cell, pass)) {
    const bool again = cell.surprise.has_value();
    if (!again) {  // an edge may have been missed: once is no proof
      cell.surprise = pass;
      return false;
    }
    // The decoder does not hold what it did, or the engine is another one than it was: today's passes speak alone.
    trusts_earlier_ = false;
    response_.forget_earlier();
    response_.add(*cell.surprise);
    ++cell.passes;
  }
  PassReading reading;
  reading.speed_mm_s = speed_mm_s;
  reading.timing_sd_mm_s = timing * unit_mm_s_;
  reading.running_s = passed_at_s;
  passed_.push_back(Passed{cell.aim.step, cell.direction, query.drive, reading, passed_at_s, true});
  ++cell.passes;
  cell.fruitless = 0;
  response_.add(pass);
  if (!order_.known && response_.size() % passes_between_refits == 0) response_.refit();
  if (const std::optional<double> current_mA = motion_.current_mA()) {
    result_.top_current_mA = std::max(result_.top_current_mA.value_or(0), *current_mA);
  }
  return true;
}

void Inspector::judge() {
  if (response_.size() == 0) return;
  std::vector<Query> queries;
  queries.reserve(cells_.size());
  for (const Inspected& cell : cells_) queries.push_back(query_of(cell.aim, cell.direction));
  const std::vector<Estimate> estimates = response_.warm(queries);
  std::vector<Estimate> shifts;
  if (trusts_earlier_) shifts = response_.shifts(queries);
  const double base_share = order_.trap.base_error_mm / order_.trap.base_mm;
  int told_cells = 0;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    Inspected& cell = cells_[i];
    cell.estimate = estimates[i];
    const double wanted = cell.aim.speed_mm_s / unit_mm_s_;
    const double tolerance = cell.aim.tolerance_mm_s / unit_mm_s_;
    const double doubtful = response_.doubtful_sd(wanted);
    const double sd = std::hypot(cell.estimate.sd, doubtful);
    cell.chance = chance_within(tolerance - wanted * base_share, cell.estimate.mean - wanted, sd);
    cell.chance_as_before = 0;
    // The same trap has read both.
    if (trusts_earlier_)
      cell.chance_as_before = chance_within(tolerance, shifts[i].mean, std::hypot(shifts[i].sd, doubtful));
    if (told(cell)) ++told_cells;
  }
  observer_.progress(told_cells, static_cast<int>(cells_.size()));
}

/// What an earlier session has told lies beside all of today's speeds alike: a fast step may tell more of a slow one,
/// in less time, than that one itself.
Inspector::Inspected* Inspector::most_telling() {
  std::vector<Query> queries;
  for (const Inspected& cell : cells_) queries.push_back(query_of(cell.aim, cell.direction));
  const Eigen::MatrixXd gains = response_.gains(queries, running_s());
  Inspected* best = nullptr;
  double most = 0;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    Inspected& cell = cells_[i];
    if (cell.fruitless >= attempts_at_most) continue;
    double gain = 0;
    for (std::size_t j = 0; j < cells_.size(); ++j) {
      const double tolerance = cells_[j].aim.tolerance_mm_s / unit_mm_s_;
      const auto row = static_cast<Eigen::Index>(j);
      if (!told(cells_[j])) gain += gains(row, static_cast<Eigen::Index>(i)) / (tolerance * tolerance);
    }
    const double cost_s = trap_.base_mm / cell.aim.speed_mm_s + (cell.direction == direction_ ? same_way_s : turned_s);
    if (gain / cost_s <= most) continue;
    most = gain / cost_s;
    best = &cell;
  }
  return best;
}

bool Inspector::as_before(const Inspected& cell) const {
  return cell.passes > 0 && cell.chance_as_before >= order_.confidence;
}

bool Inspector::told(const Inspected& cell) const {
  if (cell.fruitless >= attempts_at_most) return true;
  if (trusts_earlier_) {
    if (result_.passes >= passes_by_earlier * static_cast<int>(cells_.size())) return true;
  } else if (cell.passes >= (nimble() ? nimble_passes : most_passes)) {
    return true;
  }
  if (cell.passes < (nimble() ? 1 : least_passes)) return false;
  if (order_.as_before_counts.contains(cell.aim.step) && as_before(cell)) return true;
  return cell.chance >= order_.confidence || cell.chance <= 1 - order_.confidence;
}

bool Inspector::is_lost() const {
  const auto failed = [this](const Inspected& cell) {
    return cell.passes > 0 && cell.chance <= 1 - order_.confidence && !as_before(cell);
  };
  return order_.all_or_nothing && std::ranges::any_of(cells_, failed);
}

CellResult Inspector::report(const Inspected& cell) const {
  CellResult result;
  result.step = cell.aim.step;
  result.direction = cell.direction;
  result.target_mm_s = cell.aim.speed_mm_s;
  result.tolerance_mm_s = cell.aim.tolerance_mm_s;
  result.passes = cell.passes;
  if (cell.passes == 0) {
    result.shortfall = cell.fruitless >= attempts_at_most ? Shortfall::repeatability : Shortfall::interrupted;
    return result;
  }
  const double base_share = order_.trap.base_error_mm / order_.trap.base_mm;
  result.speed_mm_s = cell.estimate.mean * unit_mm_s_;
  result.half_width_mm_s = (two_sided_z * cell.estimate.sd + cell.estimate.mean * base_share) * unit_mm_s_;
  result.verdict = Verdict::marginal;
  if (cell.chance >= order_.confidence) result.verdict = Verdict::proved;
  if (cell.chance <= 1 - order_.confidence) result.verdict = Verdict::failed;
  if (result.verdict != Verdict::proved) result.shortfall = Shortfall::repeatability;
  result.as_before = order_.as_before_counts.contains(cell.aim.step) && as_before(cell);
  return result;
}

}  // namespace lapwright
