// The main part of a tune: trims for the whole sheet, then step by step until every verdict stands.
#include <algorithm>
#include <cmath>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr std::size_t refit_every = 6;  // passes
constexpr std::size_t refit_share = 6;  // or when there are this share more: later the scales move little
constexpr std::size_t reconsider_every = 9;
constexpr int trim_changes_at_most = 3;
constexpr double passes_per_cell = 2.4;  // on average, times the patience; more means that it does not repeat well
constexpr double passes_at_start = 20;
constexpr double patience_again = 1.5;
constexpr int worth_a_remark = 3;     // of passes that a gate has spoilt
constexpr double settle_share = 0.7;  // of the worthwhile time; then values stay and evidence is completed
constexpr double haste_share = 0.8;   // of the same; then only what a few passes will probably prove is measured again
constexpr double some_units = 5;      // a step to get about with, and for short pushes
constexpr double turn_of_cell_s = 1.5;
constexpr double started_sweep_grace_s = 40;
constexpr double cold_again_grace_s = 40;  // for each break: what the engine does warm has to be told apart anew
constexpr SettingsPrice usual_price = {2.5, 0.06};
constexpr SettingsPrice early_price = {0.3, 0.06};
constexpr SettingsPrice last_price = {0.8, 0.03};  // nothing else is left to try

}  // namespace

asio::awaitable<void> Tuner::adopt_settings() {
  observer_.phase("choosing trims");
  const CurvePair curves(sheet_.response());
  const SettingsChoice choice = choose_settings(sheet_.traits(), curves, sheet_.entry_aims());
  co_await rest();
  sheet_.adopt(choice.settings);
  // Lower the whole curve first, then raise single entries: no step is ever faster than wanted.
  co_await put(cv::top_voltage, choice.settings.top_voltage);
  co_await put_trims(choice.settings.trim[0], choice.settings.trim[1]);
  // The lowered table leaves nothing to get about with.
  co_await put_step(top_step(order_.mode));
  co_await put_step(step_near(some_units));
  refresh_book();
  considered_at_ = sheet_.response().size();
}

int Tuner::step_near(double speed) const {
  const auto nearer = [&](const StepAim& a, const StepAim& b) {
    return std::abs(a.speed_mm_s / unit_mm_s_ - speed) < std::abs(b.speed_mm_s / unit_mm_s_ - speed);
  };
  return std::min_element(order_.aims.begin(), order_.aims.end(), nearer)->step;
}

asio::awaitable<void> Tuner::sweep() {
  observer_.phase("measuring the steps");
  const double seconds_per_unit = trap_.base_mm / unit_mm_s_;
  double proving_s = 0;  // one pass for each cell, turns included
  for (const Cell& cell : sheet_.cells())
    proving_s += trap_.base_mm / (sheet_.aim(cell).speed * unit_mm_s_) + turn_of_cell_s;
  // What an earlier tune has given up on after all its patience is not worth the same again.
  const double patience = recalled_ > 0 ? std::min(order_.patience, patience_again) : order_.patience;
  const double passes_at_most = patience * passes_per_cell * static_cast<double>(sheet_.cells().size()) +
                                passes_at_start + static_cast<double>(recalled_);
  const double began_s = before_.at_s();  // a tune that goes on after a break has to decide by the same times
  const int breaks_before = before_.times_located();
  sheet_.improve_entries();
  sheet_.judge();
  for (;;) {
    check_budget();
    const double swept_s = before_.at_s() - began_s;
    const double worthwhile_s =
        patience * proving_s + started_sweep_grace_s + cold_again_grace_s * (before_.times_located() - breaks_before);
    if (swept_s > haste_share * worthwhile_s) sheet_.make_haste();
    if (swept_s > settle_share * worthwhile_s && sheet_.all_measured()) sheet_.keep_measured_values();
    const bool enough = swept_s > worthwhile_s || static_cast<double>(sheet_.response().size()) >= passes_at_most;
    if (enough && sheet_.all_measured()) break;
    const bool time_for_trims = swept_s + proving_s < worthwhile_s;  // new ones mean to prove most steps anew
    const std::optional<std::size_t> place = sheet_.next(last_direction_, seconds_per_unit);
    if (!place) {
      if (!time_for_trims || recalled_ > 0) break;
      const bool changed = co_await reconsider_settings(last_price);
      if (!changed) break;
      continue;
    }
    const int step = sheet_.aim(sheet_.cells()[*place]).step;
    co_await put_step(step);
    refresh_book();
    co_await measure(*place);
    if (sheet_.response().size() >= refitted_at_ + std::max(refit_every, refitted_at_ / refit_share)) {
      sheet_.response().refit();
      refitted_at_ = sheet_.response().size();
    }
    sheet_.improve_entries();
    sheet_.judge();
    if (sheet_.slow_end_tried() && !slow_end_considered_) {
      slow_end_considered_ = true;
      co_await reconsider_settings(early_price);
    }
    if (time_for_trims && sheet_.response().size() >= considered_at_ + reconsider_every) {
      co_await reconsider_settings(usual_price);
    }
    tell_verdicts(false);
  }
  sheet_.keep_to_what_ran();
  sheet_.judge();
  co_await try_starts();
  sheet_.judge(true);
  tell_verdicts(true);
}

asio::awaitable<bool> Tuner::reconsider_settings(SettingsPrice price) {
  considered_at_ = sheet_.response().size();
  if (trim_changes_ >= trim_changes_at_most) co_return false;
  const std::optional<DriveSettings> better = sheet_.better_settings(price);
  if (!better) co_return false;
  ++trim_changes_;
  co_await rest();
  sheet_.adopt(*better);
  co_await put(cv::top_voltage, better->top_voltage);
  co_await put_trims(better->trim[0], better->trim[1]);
  sheet_.improve_entries();
  sheet_.judge();
  co_return true;
}

asio::awaitable<void> Tuner::rest() {
  if (replaying_) co_return;
  co_await motion_.stand();
  co_await motion_.roll(standstill_s);
}

asio::awaitable<void> Tuner::finish() {
  if (replaying_) co_await locate_again();  // it was broken off here
  observer_.phase("writing the rest of the table");
  co_await rest();
  // Known to stand there already, unless another work has written them.
  const DriveSettings settings = sheet_.settings();
  co_await put(cv::start_voltage, settings.start_voltage);
  co_await put(cv::top_voltage, settings.top_voltage);
  co_await put_trims(settings.trim[0], settings.trim[1]);
  for (int entry = 1; entry <= cv::table_entries; ++entry) co_await put_entry(entry);
}

CellResult Tuner::report(const Cell& cell) const {
  const Aim& aim = sheet_.aim(cell);
  CellResult result;
  result.step = aim.step;
  result.direction = cell.direction;
  result.target_mm_s = aim.speed * unit_mm_s_;
  result.tolerance_mm_s = aim.tolerance * unit_mm_s_;
  result.passes = cell.own_passes;
  result.verdict = cell.verdict;
  result.shortfall = cell.verdict == Verdict::not_measured ? Shortfall::interrupted : cell.shortfall;
  if (cell.own_passes > 0) {
    const double base_share = order_.trap.base_error_mm / order_.trap.base_mm;
    result.speed_mm_s = cell.estimate.mean * unit_mm_s_;
    result.half_width_mm_s = (1.96 * cell.estimate.sd + cell.estimate.mean * base_share) * unit_mm_s_;
  }
  return result;
}

TuneResult Tuner::result() const {
  TuneResult result;
  result.traits = sheet_.traits();
  result.settings = sheet_.settings();
  for (const Cell& cell : sheet_.cells()) result.cells.push_back(report(cell));
  result.remarks = remarks_;
  if (noisy_ >= worth_a_remark) {
    result.remarks.push_back(std::to_string(noisy_) +
                             " passes were not used, because the two gates did not see the same: look for light that "
                             "flickers, loose wires, and whether both look at the engine at one height");
  }
  result.track_s = spent_s();
  result.passes = passes_;
  result.rejected = rejected_;
  for (const Cell& cell : sheet_.cells()) {
    if (sheet_.is_lowest(cell))
      result.starts[index(cell.direction)] = starts_.at(cell.direction, sheet_.drive_of(cell));
  }
  result.writes = ledger_.writes();
  if (sheet_.response().size() > 0) result.scales = sheet_.response().scales();
  const std::span<const Observation> seen = sheet_.response().observations();
  result.response.unit_mm_s = unit_mm_s_;
  result.response.run_up_s = run_up_s_;
  result.response.rounding = sheet_.response().scales().rounding;
  result.response.passes.assign(seen.begin(), seen.end());
  if (motion_.usual_mA() > 0) result.top_current_mA = motion_.usual_mA();
  return result;
}

void Tuner::tell_verdicts(bool final_word) {
  for (std::size_t i = 0; i < sheet_.cells().size(); ++i) {
    const Cell& cell = sheet_.cells()[i];
    if (told_[i] == Verdict::proved && cell.verdict != Verdict::proved) {
      told_[i] = Verdict::not_measured;
      observer_.withdrawn(report(cell));
    }
    // On the way verdicts come and go with the model; only a proof is news, and everything else at the end.
    const bool news = final_word || (cell.verdict == Verdict::proved && told_[i] == Verdict::not_measured);
    if (!news || cell.verdict == told_[i]) continue;
    told_[i] = cell.verdict;
    if (cell.verdict != Verdict::not_measured) observer_.settled(report(cell));
  }
  observer_.progress(sheet_.settled_cells(), static_cast<int>(sheet_.cells().size()));
}

}  // namespace lapwright
