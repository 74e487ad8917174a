// Notes what a job tells while it runs, to be held against its result.
#pragma once

#include <map>
#include <utility>

#include "daemon/shift_observer.h"

namespace lapwright::schedules {

class Notebook final : public ShiftObserver {
 public:
  void engine_begins(const Job&, int, int) override {}
  void engine_ends(const Job&, const JobResult&) override {}
  void phase(const std::string& what) override { phase_ = what; }
  void pass(int, Direction, double) override { ++passes_; }
  void settled(const CellResult& cell) override { cells_[{cell.step, cell.direction}] = cell; }
  void withdrawn(const CellResult& cell) override { cells_.erase({cell.step, cell.direction}); }
  void progress(int, int) override {}

  [[nodiscard]] int passes() const { return passes_; }
  [[nodiscard]] const std::map<std::pair<int, Direction>, CellResult>& cells() const { return cells_; }
  [[nodiscard]] const std::string& phase() const { return phase_; }

 private:
  std::map<std::pair<int, Direction>, CellResult> cells_;
  int passes_ = 0;
  std::string phase_;
};

}  // namespace lapwright::schedules
