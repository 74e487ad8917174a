#include "tuning/proof_sheet.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace {

constexpr int usual_effort = 4;
constexpr int more_effort = 3;
constexpr int most_effort = 10;
constexpr double narrowing = 0.6;
constexpr int passes_if_futile = 2;  // where the engine's own scatter exceeds the tolerance
constexpr int stalls_at_most = 2;    // one missing edge is never a stall
constexpr int fruitless_at_most = 8;
constexpr double wander_left = 0.5;      // share of the slow wander that a tune's length can't average away
constexpr double scattered_share = 0.5;  // of tolerance: more uncertainty than this is the engine's doing
constexpr double hopeless_chance = 0.2;

double normal_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

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
    : mode_(mode), aims_(std::move(aims)), confidence_(confidence), base_error_share_(base_error_share) {
  entry_aims_ = aims_of_entries(mode_, aims_);
  for (std::size_t i = 0; i < aims_.size(); ++i) {
    if (!aims_[i].prove) continue;
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      Cell cell;
      cell.aim = i;
      cell.direction = direction;
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

int ProofSheet::passes_at(double drive, Direction direction) const {
  const double rounded = response_.rounded(drive);
  const auto here = [&](const Observation& seen) {
    return seen.direction == direction && std::abs(response_.rounded(seen.drive) - rounded) < 1e-4;
  };
  const auto seen = response_.observations();
  return static_cast<int>(std::count_if(seen.begin(), seen.end(), here));
}

double ProofSheet::chance_in_tolerance(const Aim& aim, const Estimate& estimate) const {
  const double room = aim.tolerance - aim.speed * base_error_share_;
  if (room <= 0) return 0;
  const double off = estimate.mean - aim.speed;
  return normal_below((room - off) / estimate.sd) - normal_below((-room - off) / estimate.sd);
}

bool ProofSheet::futile(const Aim& aim) const {
  const double best_sd =
      std::hypot(response_.pass_sd(aim.speed) / std::sqrt(usual_effort), response_.wander_sd(aim.speed) * wander_left);
  return 1.645 * best_sd > aim.tolerance;
}

int ProofSheet::passes_at_most(const Aim& aim) const { return futile(aim) ? passes_if_futile : effort_; }

bool ProofSheet::try_harder() {
  if (effort_ >= most_effort) return false;
  const auto hopeful = [this](const Cell& cell) {
    const Aim& wanted = aim(cell);
    if (cell.verdict != Verdict::marginal || futile(wanted)) return false;
    // A few passes more narrow the interval by a share; what lies at the edge of tolerance stays there.
    const double room =
        wanted.tolerance - wanted.speed * base_error_share_ - std::abs(cell.estimate.mean - wanted.speed);
    return room > narrowing * 1.645 * cell.estimate.sd;
  };
  if (std::none_of(cells_.begin(), cells_.end(), hopeful)) return false;
  effort_ += more_effort;
  judge();
  return true;
}

void ProofSheet::judge(bool final_word) {
  std::vector<Query> queries;
  queries.reserve(cells_.size());
  for (const Cell& cell : cells_) queries.push_back(Query{drive_of(cell), cell.direction});
  const std::vector<Estimate> estimates = response_.warm(queries);
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    cells_[i].estimate = estimates[i];
    cells_[i].own_passes = passes_at(queries[i].drive, queries[i].direction);
    Estimate cautious = estimates[i];
    cautious.sd = std::hypot(cautious.sd, response_.doubtful_sd(aim(cells_[i]).speed));
    cells_[i].chance = chance_in_tolerance(aim(cells_[i]), cautious);
  }
  for (Cell& cell : cells_) judge_cell(cell, final_word);
}

void ProofSheet::judge_cell(Cell& cell, bool final_word) {
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
    cell.shortfall = Shortfall::repeatability;
    return;
  }
  if (cell.own_passes == 0) return;
  if (cell.chance >= confidence_) {
    cell.verdict = Verdict::proved;
    return;
  }
  const bool hopeless = cell.chance < hopeless_chance;
  const bool enough = final_word || cell.own_passes >= passes_at_most(wanted);
  if (!(hopeless || enough) || (!final_word && !neighbours_no_better(cell))) return;
  const bool inside = std::abs(cell.estimate.mean - wanted.speed) <= wanted.tolerance;
  if (hopeless && !inside) {
    cell.verdict = Verdict::best_attainable;
    cell.shortfall = why_short(cell);
  } else if (enough) {
    cell.verdict = inside ? Verdict::marginal : Verdict::best_attainable;
    cell.shortfall = why_short(cell);
  }
}

bool ProofSheet::settled(const Cell& cell) const { return cell.verdict != Verdict::not_measured; }

bool ProofSheet::all_visited() const {
  return std::all_of(cells_.begin(), cells_.end(), [this](const Cell& cell) { return cell.visited || settled(cell); });
}

int ProofSheet::settled_cells() const {
  return static_cast<int>(
      std::count_if(cells_.begin(), cells_.end(), [this](const Cell& cell) { return settled(cell); }));
}

Shortfall ProofSheet::why_short(const Cell& cell) const {
  const Aim& wanted = aim(cell);
  const double off = cell.estimate.mean - wanted.speed;
  const int entry = static_cast<int>(std::lround(table_position(mode_, wanted.step)));
  const int value = settings_.table[static_cast<std::size_t>(entry - 1)];
  if (off < 0 && (value >= 255 || drive_of(cell) >= 255)) return Shortfall::out_of_drive;
  if (off > 0 && drive_of(cell) - 2 <= floor(cell.direction)) return Shortfall::floor;
  if (1.645 * cell.estimate.sd > scattered_share * wanted.tolerance) return Shortfall::repeatability;
  const Query here{drive_of(cell), cell.direction};
  const Query other{drive_at(wanted.step, opposite(cell.direction)), opposite(cell.direction)};
  const double between = std::abs(response_.curve(here) - response_.curve(other));
  return between > wanted.tolerance ? Shortfall::directions : Shortfall::resolution;
}

void ProofSheet::note_stall(std::size_t place) {
  Cell& cell = cells_[place];
  ++cell.stalls;
  if (cell.stalls < stalls_at_most) return;
  const double drive = drive_of(cell);
  const auto seen = response_.observations();
  const bool runs_slower = std::any_of(seen.begin(), seen.end(), [&](const Observation& pass) {
    return pass.direction == cell.direction && pass.drive <= drive + 1e-4;
  });
  if (!runs_slower) floor_[index(cell.direction)] = std::max(floor(cell.direction), drive);
}

}  // namespace lapwright
