// How the table is corrected while it is being proved.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "tuning/proof_sheet.h"

namespace lapwright {
namespace {

constexpr int reach = 2;             // neighbouring values considered
constexpr int switches_at_most = 6;  // of an entry that was measured: bounds the hunt
constexpr double clear_gain = 0.4;   // share of tolerance
constexpr double small_gain = 0.1;
constexpr int passes_before_small_gains = 3;
constexpr int passes_in_vain = 6;  // of a step: a neighbour that seems no worse than its value is tried, even late
constexpr double fair_hope = 0.6;  // of a proof by passes alone; less than that, and a small gain need not wait
constexpr int one_trim_reach = 4;
constexpr double sure_sds = 3;  // that all estimates may be off when a value is called the closest
// Quantiles of a normal doubt that all values of an entry share: warming and wander move them together.
constexpr std::array<double, 5> doubts = {-1.28, -0.52, 0, 0.52, 1.28};

}  // namespace

std::span<const std::size_t> ProofSheet::cells_of_entry(int entry) const {
  return cells_of_entries_[static_cast<std::size_t>(entry - 1)];
}

std::vector<double> ProofSheet::speeds_with(int entry, int value) const {
  DriveSettings trial = settings_;
  trial.table[static_cast<std::size_t>(entry - 1)] = value;
  std::vector<Query> queries;
  for (const std::size_t place : cells_of_entry(entry)) {
    const double step_value = value_of_step(trial, mode_, aim(cells_[place]).step);
    const Direction direction = cells_[place].direction;
    queries.push_back(Query{drive_of_value(traits_, trial, step_value, direction), direction});
    if (slow_end_.stalls(queries.back())) return {};
  }
  return response_.warm_means(queries);
}

double ProofSheet::misfit(int entry, std::span<const double> speeds, double off) const {
  if (speeds.empty()) return std::numeric_limits<double>::infinity();
  double worst = 0;
  auto speed = speeds.begin();
  for (const std::size_t place : cells_of_entry(entry)) {
    const Aim& wanted = aim(cells_[place]);
    worst = std::max(worst, std::abs(*speed++ + off * cells_[place].doubt - wanted.speed) / wanted.tolerance);
  }
  return worst;
}

std::optional<int> ProofSheet::better_value(int entry) const {
  const int value = settings_.table[static_cast<std::size_t>(entry - 1)];
  const auto expected_misfit = [&](int with) {
    const std::vector<double> speeds = speeds_with(entry, with);
    double sum = 0;
    for (const double off : doubts) sum += misfit(entry, speeds, off);
    return sum / doubts.size();
  };
  const double held = expected_misfit(value);
  int best = value;
  double smallest = held;
  for (int other = std::max({value - reach, lowest_value(entry), 0}); other <= std::min(value + reach, 255); ++other) {
    const double expected = expected_misfit(other);
    if (expected >= smallest) continue;
    smallest = expected;
    best = other;
  }
  if (smallest >= held - (in_vain(entry) ? 0 : small_gain)) return std::nullopt;
  const std::span<const std::size_t> places = cells_of_entry(entry);
  const bool tried_enough = std::all_of(places.begin(), places.end(), [this](std::size_t place) {
    const Cell& cell = cells_[place];
    return cell.verdict == Verdict::proved || cell.own_passes >= passes_before_small_gains ||
           (cell.own_passes > 0 && cell.hope < fair_hope);
  });
  if (tried_enough) return best;  // where passes alone do not help, a small gain may
  // One more pass is dearer than a small gain.
  if (smallest >= held - clear_gain) return std::nullopt;
  return best;
}

bool ProofSheet::in_vain(int entry) const {
  const std::span<const std::size_t> places = cells_of_entry(entry);
  return std::any_of(places.begin(), places.end(), [this](std::size_t place) {
    return cells_[place].verdict != Verdict::proved && cells_[place].own_passes >= passes_in_vain;
  });
}

bool ProofSheet::may_switch(int entry) const {
  return switches_[static_cast<std::size_t>(entry - 1)] < switches_at_most && (!keep_measured_ || in_vain(entry));
}

/// The entry of the lowest step that is proved; those below it must not stand above it.
bool ProofSheet::explores_floor(int entry) const {
  return !cells_.empty() && entry <= std::lround(table_position(mode_, aim(cells_.front()).step));
}

int ProofSheet::lowest_value(int entry) const {
  const SlowEnd::Gap end = slow_gap();
  if (end.stalls < 0) return 0;
  // The lowest step halves the gap between what stalled and what ran; the others keep to what is known to run.
  return explores_floor(entry) ? end.stalls + std::max((end.runs - end.stalls) / 2, 1) : end.runs;
}

void ProofSheet::keep_to_what_ran() {
  const SlowEnd::Gap end = slow_gap();
  if (end.stalls < 0) return;
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    int& value = settings_.table[static_cast<std::size_t>(entry - 1)];
    if (value >= end.runs) continue;
    value = end.runs;
    for (const std::size_t place : cells_of_entry(entry)) cells_[place].stalls = cells_[place].fruitless = 0;
  }
}

void ProofSheet::improve_entry(int entry, std::optional<CurvePair>& curves) {
  const auto row = static_cast<std::size_t>(entry - 1);
  int& value = settings_.table[row];
  const std::span<const std::size_t> places = cells_of_entry(entry);
  const auto any = [&](auto&& holds) {
    return std::any_of(places.begin(), places.end(), [&](std::size_t place) { return holds(cells_[place]); });
  };
  const bool measured = any([](const Cell& cell) { return cell.own_passes > 0; });
  const bool all_proved = !any([](const Cell& cell) { return cell.verdict != Verdict::proved; });
  const int lowest = lowest_value(entry);
  const bool too_fast =
      !any([this](const Cell& cell) { return cell.estimate.mean <= aim(cell).speed + aim(cell).tolerance; });
  const bool tries_lower = explores_floor(entry) && lowest > 0 && value > lowest && measured && too_fast;
  if (value < lowest || tries_lower) {
    value = lowest;
  } else if (!measured) {
    if (!curves) curves.emplace(response_);
    const int wanted = std::max(best_value(traits_, settings_, *curves, entry_aims_[row]), lowest);
    if (wanted == value) return;
    value = wanted;
  } else {
    if (all_proved || !may_switch(entry)) return;
    const std::optional<int> better = better_value(entry);
    if (!better) return;
    ++switches_[row];
    value = *better;
  }
  for (const std::size_t place : places) cells_[place].stalls = 0;
}

void ProofSheet::improve_entries() {
  std::optional<CurvePair> curves;  // dear, and seldom needed once every entry has passes
  for (int entry = 1; entry <= cv::table_entries; ++entry) improve_entry(entry, curves);
  for (std::size_t i = 1; i < settings_.table.size(); ++i) {  // a table never falls
    settings_.table[i] = std::max(settings_.table[i], settings_.table[i - 1]);
  }
}

bool ProofSheet::neighbours_no_better(const Cell& cell) const {
  const int entry = static_cast<int>(std::lround(table_position(mode_, aim(cell).step)));
  return !may_switch(entry) || !better_value(entry);
}

bool ProofSheet::surely_closest(const Cell& cell) const {
  if (cell.shortfall == Shortfall::out_of_drive) return true;
  if (cell.shortfall == Shortfall::floor) return false;  // where friction lets go is not the same twice
  const Aim& wanted = aim(cell);
  const double surely_off = std::abs(cell.estimate.mean - wanted.speed) - sure_sds * cell.doubt;
  if (cell.shortfall == Shortfall::repeatability && surely_off <= wanted.tolerance) return false;  // it may lie inside
  const int entry = static_cast<int>(std::lround(table_position(mode_, wanted.step)));
  const int value = settings_.table[static_cast<std::size_t>(entry - 1)];
  static constexpr std::array nearest_first = {0, 1, -1, 2, -2, 3, -3};
  std::array<std::vector<double>, nearest_first.size()> speeds;
  for (std::size_t i = 0; i < speeds.size(); ++i) {
    const int other = value + nearest_first[i];
    if (other >= 0 && other <= 255) speeds[i] = speeds_with(entry, other);
  }
  const auto closest = [&](double off) {
    const auto closer = [&](const auto& a, const auto& b) { return misfit(entry, a, off) < misfit(entry, b, off); };
    return static_cast<std::size_t>(std::min_element(speeds.begin(), speeds.end(), closer) - speeds.begin());
  };
  if (misfit(entry, speeds.front(), 0) - misfit(entry, speeds[closest(0)], 0) >= clear_gain) return false;
  // Were all speeds as far off as their estimates may be, the closest value would still be this one or the next.
  return std::abs(nearest_first[closest(sure_sds)]) <= 1 && std::abs(nearest_first[closest(-sure_sds)]) <= 1;
}

double ProofSheet::proofs_lost(const DriveSettings& other) const {
  double lost = 0;
  for (const Cell& cell : cells_) {
    const double value = value_of_step(other, mode_, aim(cell).step);
    const double drive = drive_of_value(traits_, other, value, cell.direction);
    if (std::abs(response_.rounded(drive) - response_.rounded(drive_of(cell))) < 1e-4) continue;
    lost += (cell.verdict == Verdict::proved ? 1.0 : 0.0) + (cell.own_passes > 0 ? 0.5 : 0.0);
  }
  return lost;
}

std::optional<DriveSettings> ProofSheet::better_settings(const SettingsPrice& price) const {
  const CurvePair curves(response_);
  const double held = settings_score(traits_, settings_, curves, entry_aims_);
  std::vector<SettingsChoice> choices = {choose_settings(traits_, curves, entry_aims_)};
  if (traits_.trims_act.value_or(false)) {  // one trim alone may leave proofs of the other direction standing
    for (std::size_t side = 0; side < 2; ++side) {
      for (int change = -one_trim_reach; change <= one_trim_reach; ++change) {
        DriveSettings other = settings_;
        other.trim[side] = std::clamp(other.trim[side] + change, 1, 255);
        fill_table(traits_, other, curves, entry_aims_);
        choices.push_back(SettingsChoice{other, settings_score(traits_, other, curves, entry_aims_)});
      }
    }
  }
  std::optional<DriveSettings> best;
  double best_worth = 0;
  for (const SettingsChoice& choice : choices) {
    const double worth = choice.score - held - price.of_change - price.of_proof * proofs_lost(choice.settings);
    if (worth <= best_worth) continue;
    best_worth = worth;
    best = choice.settings;
  }
  return best;
}

}  // namespace lapwright
