// Who follows a shift: progress on a terminal, the log, the people at the control socket.
#pragma once

#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"

namespace lapwright {

/// Told as it happens; must not block.
class ShiftObserver : public TuneObserver {
 public:
  /// @param number  counts from 1
  virtual void engine_begins(const Job& job, int number, int of) = 0;
  virtual void engine_ends(const Job& job, const JobResult& result) = 0;
  /// An engine's turn came, and its files can't be used any more.
  virtual void not_begun(const std::string& /*engine*/, const std::string& /*why*/) {}
  /// The guard has stopped the engine under work.
  virtual void stopped(const Stop& /*why*/) {}
  /// @param why  the shift waits: for the allowed hours, or before another try; empty: it goes on
  virtual void waits(const std::string& /*why*/) {}
};

/// Passes everything on to several.
class ShiftObservers final : public ShiftObserver {
 public:
  explicit ShiftObservers(std::vector<ShiftObserver*> all) : all_(std::move(all)) {}
  /// @param one  outlives this
  void add(ShiftObserver& one) { all_.push_back(&one); }
  void engine_begins(const Job& job, int number, int of) override {
    for (ShiftObserver* each : all_) each->engine_begins(job, number, of);
  }
  void engine_ends(const Job& job, const JobResult& result) override {
    for (ShiftObserver* each : all_) each->engine_ends(job, result);
  }
  void not_begun(const std::string& engine, const std::string& why) override {
    for (ShiftObserver* each : all_) each->not_begun(engine, why);
  }
  void stopped(const Stop& why) override {
    for (ShiftObserver* each : all_) each->stopped(why);
  }
  void waits(const std::string& why) override {
    for (ShiftObserver* each : all_) each->waits(why);
  }
  void phase(const std::string& what) override {
    for (ShiftObserver* each : all_) each->phase(what);
  }
  void pass(int step, Direction direction, double speed_mm_s) override {
    for (ShiftObserver* each : all_) each->pass(step, direction, speed_mm_s);
  }
  void recalls(bool still) override {
    for (ShiftObserver* each : all_) each->recalls(still);
  }
  void settled(const CellResult& cell) override {
    for (ShiftObserver* each : all_) each->settled(cell);
  }
  void progress(int settled_cells, int all_cells) override {
    for (ShiftObserver* each : all_) each->progress(settled_cells, all_cells);
  }

 private:
  std::vector<ShiftObserver*> all_;
};

}  // namespace lapwright
