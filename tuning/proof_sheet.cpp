#include "tuning/proof_sheet.h"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "tuning/chance.h"

namespace lapwright {
namespace {

constexpr int stalls_at_most = 2;  // one missing edge is never a stall
constexpr int fruitless_at_most = 8;
constexpr double scattered_share = 0.5;  // of tolerance: more uncertainty than this is the engine's doing
constexpr double scout_units = 1.63;     // of 18
constexpr double hopeless_chance = 0.2;
constexpr int few_passes = 3;       // looked ahead
constexpr double least_hope = 0.1;  // of proving a cell with them; less is not worth the time
constexpr double hasty_least_hope = 0.25;
constexpr double drives_alike = 1e-6;  // counts
constexpr double ahead_s = 60;         // by then the engine is warmer and has wandered
constexpr int own_passes_at_most = 12;
constexpr int hasty_own_passes_at_most = 8;

EntryAims aims_of_entries(StepMode mode, const std::vector<Aim>& aims) {
  EntryAims result;
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    // The step, fractional in 126-step operation, that falls on the entry.
    const double step = mode == StepMode::steps28 ? entry : 1 + (entry - 1) * 125.0 / 27.0;
    const auto below = static_cast<std::size_t>(std::floor(step + 1e-9)) - 1;
    const std::size_t above = std::min(below + 1, aims.size() - 1);
    const double share = std::max(step - static_cast<double>(below + 1), 0.0);
    EntryAim& aim = result[static_cast<std::size_t>(entry - 1)];
    aim.speed = aims[below].speed + share * (aims[above].speed - aims[below].speed);
    aim.tolerance = aims[below].tolerance + share * (aims[above].tolerance - aims[below].tolerance);
  }
  return result;
}

}  // namespace

ProofSheet::ProofSheet(StepMode mode, std::vector<Aim> aims, double confidence, double base_error_share)
    : mode_(mode),
      aims_(std::move(aims)),
      confidence_(confidence),
      base_error_share_(base_error_share),
      one_sided_z_(boost::math::quantile(boost::math::normal(), confidence)) {
  entry_aims_ = aims_of_entries(mode_, aims_);
  for (std::size_t i = 0; i < aims_.size(); ++i) {
    if (!aims_[i].prove) continue;
    if (std::abs(aims_[i].speed - scout_units) < std::abs(aims_[scout_].speed - scout_units)) scout_ = i;
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      Cell cell;
      cell.aim = i;
      cell.direction = direction;
      for (int entry = 1; entry <= cv::table_entries; ++entry) {
        const double distance = std::abs(table_position(mode_, aims_[i].step) - entry);
        if (distance < 1) cells_of_entries_[static_cast<std::size_t>(entry - 1)].push_back(cells_.size());
      }
      cells_.push_back(cell);
    }
  }
}

double ProofSheet::drive_at(int step, Direction direction) const {
  return drive_of_value(traits_, settings_, value_of_step(settings_, mode_, step), direction);
}

void ProofSheet::adopt(const DriveSettings& settings) {
  settings_ = settings;
  switches_.fill(0);
  for (Cell& cell : cells_) cell.stalls = 0;
}

bool ProofSheet::as_earlier(const Cell& cell) const {
  if (!earlier_) return false;
  const double value = value_of_step(*earlier_, mode_, aim(cell).step);
  return std::abs(drive_of_value(traits_, *earlier_, value, cell.direction) - drive_of(cell)) < drives_alike;
}

double ProofSheet::room(const Aim& aim) const { return aim.tolerance - aim.speed * base_error_share_; }

double ProofSheet::hope_of(const Cell& cell, double gain) const {
  const Aim& wanted = aim(cell);
  const double variance = cell.estimate.sd * cell.estimate.sd;
  if (gain <= 0 || gain >= variance) return gain > 0 ? 1 : 0;
  // A pass that narrows the estimate so much is worth a reading with this variance of its own.
  const double of_a_pass = variance * (variance - gain) / gain;
  const double variance_then = 1 / (1 / variance + few_passes / of_a_pass);
  const double sd_then = std::hypot(std::sqrt(variance_then), response_.doubtful_sd(wanted.speed));
  const double moves = std::sqrt(variance - variance_then);  // standard deviation of where the mean will be
  return chance_within(room(wanted) - one_sided_z_ * sd_then, cell.estimate.mean - wanted.speed, moves);
}

void ProofSheet::foresee() {
  std::vector<Query> queries;
  std::vector<Cell*> open;
  for (Cell& cell : cells_) {
    if (cell.own_passes == 0 || cell.chance >= confidence_) continue;
    open.push_back(&cell);
    queries.push_back(Query{drive_of(cell), cell.direction});
  }
  if (open.empty()) return;
  const std::vector<double> gains = response_.own_gains(queries, response_.longest_s() + ahead_s);
  for (std::size_t i = 0; i < open.size(); ++i) open[i]->hope = hope_of(*open[i], gains[i]);
}

void ProofSheet::judge(bool final_word) {
  slow_end_.doubt(response_.observations());
  std::vector<Query> queries;
  queries.reserve(cells_.size());
  for (const Cell& cell : cells_) queries.push_back(Query{drive_of(cell), cell.direction});
  const std::vector<Estimate> estimates = response_.warm(queries);
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    Cell& cell = cells_[i];
    const Aim& wanted = aim(cell);
    cell.estimate = estimates[i];
    cell.own_passes = response_.passes_at(queries[i], as_earlier(cell));
    cell.rests_on_earlier = earlier_ && cell.own_passes > 0 && response_.passes_at(queries[i]) == 0;
    cell.doubt = std::hypot(cell.estimate.sd, response_.doubtful_sd(wanted.speed));
    cell.chance = chance_within(room(wanted), cell.estimate.mean - wanted.speed, cell.doubt);
  }
  foresee();
  std::array<std::optional<bool>, cv::table_entries> settled_entries;  // both directions of an entry ask the same
  for (Cell& cell : cells_) {
    const auto row = static_cast<std::size_t>(std::lround(table_position(mode_, aim(cell).step))) - 1;
    judge_cell(cell, final_word, settled_entries[row]);
  }
}

void ProofSheet::judge_cell(Cell& cell, bool final_word, std::optional<bool>& no_better) {
  const Aim& wanted = aim(cell);
  cell.verdict = Verdict::not_measured;
  cell.shortfall = Shortfall::none;
  if (cell.stalls >= stalls_at_most && cell.own_passes == 0) {
    cell.verdict = Verdict::failed;
    cell.shortfall = Shortfall::floor;
    return;
  }
  if (cell.fruitless >= fruitless_at_most) {  // the gates or the engine give nothing usable here
    cell.verdict = Verdict::failed;
    cell.shortfall = cell.stalls >= stalls_at_most ? Shortfall::floor : Shortfall::repeatability;
    return;
  }
  if (cell.own_passes == 0) return;
  if (cell.chance >= confidence_) {
    cell.verdict = Verdict::proved;
    return;
  }
  if (cell.rests_on_earlier && !final_word) return;  // what an earlier session alone can't prove is looked at today
  const bool hopeless = cell.chance < hopeless_chance;
  const bool enough = final_word || cell.hope < (in_haste_ ? hasty_least_hope : least_hope) ||
                      cell.own_passes >= (in_haste_ ? hasty_own_passes_at_most : own_passes_at_most);
  if (!(hopeless || enough)) return;
  if (!final_word) {
    if (!no_better) no_better = neighbours_no_better(cell);
    if (!*no_better) return;
  }
  const bool inside = std::abs(cell.estimate.mean - wanted.speed) <= wanted.tolerance;
  if (inside && !enough) return;
  cell.shortfall = why_short(cell);
  cell.verdict = Verdict::marginal;
  if (inside) return;
  cell.verdict = surely_closest(cell) ? Verdict::best_attainable : Verdict::failed;
  // Which value is closest can't be told: the engine is too uneven for it.
  if (cell.verdict == Verdict::failed && cell.shortfall != Shortfall::floor) cell.shortfall = Shortfall::repeatability;
}

bool ProofSheet::all_measured() const {
  const auto measured = [](const Cell& cell) { return cell.own_passes > 0 || cell.settled(); };
  return std::all_of(cells_.begin(), cells_.end(), measured);
}

int ProofSheet::settled_cells() const {
  const auto settled = [](const Cell& cell) { return cell.settled(); };
  return static_cast<int>(std::count_if(cells_.begin(), cells_.end(), settled));
}

double ProofSheet::speed_at(const Cell& cell, int value) const {
  const std::array<Query, 1> there = {Query{drive_of_value(traits_, settings_, value, cell.direction), cell.direction}};
  return response_.warm_means(there).front();
}

Shortfall ProofSheet::why_short(const Cell& cell) const {
  const Aim& wanted = aim(cell);
  const double off = cell.estimate.mean - wanted.speed;
  const int entry = static_cast<int>(std::lround(table_position(mode_, wanted.step)));
  const int value = settings_.table[static_cast<std::size_t>(entry - 1)];
  if (off < 0 && (value >= 255 || drive_of(cell) >= 255)) return Shortfall::out_of_drive;
  const SlowEnd::Gap gap = slow_gap();
  if (off > 0 && gap.stalls >= 0 && speed_at(cell, gap.runs) > wanted.speed + wanted.tolerance) return Shortfall::floor;
  if (one_sided_z_ * cell.estimate.sd > scattered_share * wanted.tolerance) return Shortfall::repeatability;
  const Query here{drive_of(cell), cell.direction};
  const Query other{drive_at(wanted.step, opposite(cell.direction)), opposite(cell.direction)};
  const double between = std::abs(response_.curve(here) - response_.curve(other));
  return between > wanted.tolerance ? Shortfall::directions : Shortfall::resolution;
}

void ProofSheet::note_stall(std::size_t place) {
  Cell& cell = cells_[place];
  ++cell.stalls;
  if (cell.stalls >= stalls_at_most)
    slow_end_.note_stall(Query{drive_of(cell), cell.direction}, response_.observations());
}

}  // namespace lapwright
