// Every step in both directions with its evidence: judges it, corrects the table, and says what to measure next.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "tuning/cell.h"
#include "tuning/inversion.h"
#include "tuning/response.h"
#include "tuning/slow_end.h"

namespace lapwright {

/// Pure: numbers in, verdicts and next table values out.
class ProofSheet {
 public:
  /// @param base_error_share  standard uncertainty of the trap's base as a share of it: a bias no averaging removes
  ProofSheet(StepMode mode, std::vector<Aim> aims, double confidence, double base_error_share);

  Response& response() { return response_; }
  [[nodiscard]] const Response& response() const { return response_; }
  Traits& traits() { return traits_; }
  [[nodiscard]] const Traits& traits() const { return traits_; }
  DriveSettings& settings() { return settings_; }
  [[nodiscard]] const DriveSettings& settings() const { return settings_; }
  [[nodiscard]] const std::vector<Cell>& cells() const { return cells_; }
  Cell& cell(std::size_t place) { return cells_[place]; }
  [[nodiscard]] const Aim& aim(const Cell& cell) const { return aims_[cell.aim]; }
  [[nodiscard]] bool is_lowest(const Cell& cell) const { return cell.aim == cells_.front().aim; }  ///< its step is
  [[nodiscard]] const EntryAims& entry_aims() const { return entry_aims_; }
  [[nodiscard]] double drive_at(int step, Direction direction) const;
  [[nodiscard]] double drive_of(const Cell& cell) const { return drive_at(aim(cell).step, cell.direction); }

  void adopt(const DriveSettings& settings);  ///< verdicts start anew, what was measured stays known to the response
  /// The settings are an earlier session's: as long as a cell keeps its drive, that session's passes are its own, too.
  void rely_on_earlier() { earlier_ = settings_; }
  void improve_entries();  ///< moves table entries to better values; call after new passes
  /// From now on values that were measured stay, unless in vain: what is left of the time completes their evidence.
  void keep_measured_values() { keep_measured_ = true; }
  /// Ends the search for the slow end: the lowest step goes back to a value that was seen to run in both directions.
  void keep_to_what_ran();
  /// From now on only what a few passes more will probably prove is measured again.
  void make_haste() { in_haste_ = true; }
  /// Trims that serve so many more steps than the present ones that losing proofs is worth it, if there are any.
  [[nodiscard]] std::optional<DriveSettings> better_settings(const SettingsPrice& price) const;
  [[nodiscard]] bool all_measured() const;    ///< at the present drives, or given up
  [[nodiscard]] bool slow_end_tried() const;  ///< by the step that goes ahead, in both directions
  /// Verdicts from what is known; `final_word`: nothing more will be measured, so every cell with a pass gets one.
  void judge(bool final_word = false);
  void note_stall(std::size_t place);
  [[nodiscard]] const SlowEnd& slow_end() const { return slow_end_; }
  /// The next cell to measure, empty when every verdict stands. @param seconds_per_unit  time over the base at 1 unit
  [[nodiscard]] std::optional<std::size_t> next(Direction last_direction, double seconds_per_unit) const;
  [[nodiscard]] int settled_cells() const;

 private:
  [[nodiscard]] double room(const Aim& aim) const;  ///< tolerance that the base leaves, units
  void judge_cell(Cell& cell, bool final_word, std::optional<bool>& no_better);
  [[nodiscard]] bool as_earlier(const Cell& cell) const;
  [[nodiscard]] double speed_at(const Cell& cell, int value) const;  ///< units, warm, at that table value
  [[nodiscard]] Shortfall why_short(const Cell& cell) const;
  [[nodiscard]] bool neighbours_no_better(const Cell& cell) const;
  [[nodiscard]] bool surely_closest(const Cell& cell) const;  ///< or the next value is: "best attainable" claims that
  /// Speeds of the entry's cells with that value, units; empty where one of them stalls.
  [[nodiscard]] std::vector<double> speeds_with(int entry, int value) const;
  /// Their largest error as a share of tolerance, were all of them `off` standard deviations beside.
  [[nodiscard]] double misfit(int entry, std::span<const double> speeds, double off) const;
  [[nodiscard]] double proofs_lost(const DriveSettings& other) const;
  void improve_entry(int entry, std::optional<CurvePair>& curves);
  [[nodiscard]] std::optional<int> better_value(int entry) const;  ///< near by, and worth proving anew
  [[nodiscard]] bool in_vain(int entry) const;  ///< a step of it was measured over and over, and is not proved
  [[nodiscard]] bool may_switch(int entry) const;
  [[nodiscard]] SlowEnd::Gap slow_gap() const { return slow_end_.gap(response_.observations(), traits_, settings_); }
  [[nodiscard]] bool explores_floor(int entry) const;
  [[nodiscard]] int lowest_value(int entry) const;
  [[nodiscard]] std::span<const std::size_t> cells_of_entry(int entry) const;
  [[nodiscard]] int turn_of(const Cell& cell) const;
  [[nodiscard]] std::optional<std::size_t> next_unvisited(Direction last_direction) const;
  [[nodiscard]] std::optional<std::size_t> most_telling(Direction last_direction, double seconds_per_unit) const;
  void foresee();
  [[nodiscard]] double hope_of(const Cell& cell, double gain) const;

  StepMode mode_;
  std::vector<Aim> aims_;
  double confidence_, base_error_share_, one_sided_z_;  // z of the confidence
  Response response_;
  Traits traits_;
  DriveSettings settings_;
  std::optional<DriveSettings> earlier_;
  EntryAims entry_aims_ = {};
  std::size_t scout_ = 0;  // the aim that tries the slow end early
  std::vector<Cell> cells_;
  std::array<std::vector<std::size_t>, cv::table_entries> cells_of_entries_;
  std::array<int, cv::table_entries> switches_ = {};  // changes of an entry after it was measured
  bool keep_measured_ = false, in_haste_ = false;
  SlowEnd slow_end_;
};

}  // namespace lapwright
