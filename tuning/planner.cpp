// What to measure next: the cheapest way to the most knowledge.
#include <algorithm>
#include <cmath>

#include "tuning/proof_sheet.h"

namespace lapwright {
namespace {

constexpr double turn_s = 2.6;
constexpr double slow_units = 4.5;        // of 18
constexpr double fast_units = 9;          // of 18
constexpr std::size_t fast_stride = 3;    // of the fast steps, the first sweep takes one in so many
constexpr double same_direction_s = 2.2;  // the engine has to come back over the trap first

}  // namespace

std::optional<std::size_t> ProofSheet::next(Direction last_direction, double seconds_per_unit) const {
  // Fast steps first: they warm the engine while they inform. A few of them are enough to begin with; the rest come
  // when the engine is warmer, so that fewer are measured twice; the slow, dear ones come last and warm. One slow step
  // goes ahead: if the trims serve the slow end badly, few passes are lost by choosing others.
  if (const auto place = next_unvisited(last_direction)) return place;
  return most_telling(last_direction, seconds_per_unit);
}

int ProofSheet::turn_of(const Cell& cell) const {
  const double speed = aim(cell).speed;
  if (cell.aim == scout_) return 0;
  if (speed < slow_units) return 2;
  return speed > fast_units && (aims_.size() - 1 - cell.aim) % fast_stride != 0 ? 3 : 1;
}

bool ProofSheet::slow_end_tried() const {
  return std::all_of(cells_.begin(), cells_.end(),
                     [this](const Cell& cell) { return cell.aim != scout_ || cell.visited || cell.settled(); });
}

std::optional<std::size_t> ProofSheet::next_unvisited(Direction last_direction) const {
  std::optional<std::size_t> best;
  const auto sooner = [&](const Cell& cell, const Cell& held) {
    if (turn_of(cell) != turn_of(held)) return turn_of(cell) < turn_of(held);
    const bool turns = cell.direction != last_direction;
    // Alternate directions; within a direction the fastest comes first.
    if (turns != (held.direction != last_direction)) return turns;
    return aim(cell).speed > aim(held).speed;
  };
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    if (cells_[i].visited || cells_[i].settled()) continue;
    if (!best || sooner(cells_[i], cells_[*best])) best = i;
  }
  return best;
}

std::optional<std::size_t> ProofSheet::most_telling(Direction last_direction, double seconds_per_unit) const {
  std::vector<std::size_t> open;
  std::vector<Query> queries;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    if (cells_[i].settled()) continue;
    open.push_back(i);
    queries.push_back(Query{drive_of(cells_[i]), cells_[i].direction});
  }
  if (open.empty()) return std::nullopt;
  const Eigen::MatrixXd gains = response_.gains(queries, response_.longest_s());
  std::size_t best = open.front();
  double best_worth = -1;
  for (std::size_t i = 0; i < open.size(); ++i) {
    const Cell& candidate = cells_[open[i]];
    const double speed = std::max(aim(candidate).speed, 0.1);
    double gain = candidate.own_passes == 0 ? 0.5 : 0.0;  // without a pass of its own nothing is proved
    for (std::size_t j = 0; j < open.size(); ++j) {
      const double tolerance = aim(cells_[open[j]]).tolerance;
      gain += gains(static_cast<Eigen::Index>(j), static_cast<Eigen::Index>(i)) / (tolerance * tolerance);
    }
    double cost_s = seconds_per_unit / speed + turn_s;
    if (candidate.direction == last_direction) cost_s += same_direction_s;
    if (gain / cost_s > best_worth) {
      best_worth = gain / cost_s;
      best = open[i];
    }
  }
  return best;
}

}  // namespace lapwright
