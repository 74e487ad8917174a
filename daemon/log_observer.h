// A shift in the service's log: one line for every phase, step and engine.
#pragma once

#include <spdlog/logger.h>

#include <memory>

#include "daemon/shift_observer.h"
#include "daemon/step_tracker.h"

namespace lapwright {

class LogObserver final : public ShiftObserver {
 public:
  explicit LogObserver(std::shared_ptr<spdlog::logger> log) : log_(std::move(log)) {}
  void engine_begins(const Job& job, int number, int of) override;
  void engine_ends(const Job& job, const JobResult& result) override;
  void not_begun(const std::string& engine, const std::string& why) override;
  void stopped(const Stop& why) override;
  void waits(const std::string& why) override;
  void phase(const std::string& what) override;
  void pass(int step, Direction direction, double speed_mm_s) override;
  void settled(const CellResult& cell) override;
  void progress(int, int) override {}
  void recalls(bool still) override;

 private:
  std::shared_ptr<spdlog::logger> log_;
  const Job* job_ = nullptr;
  StepTracker steps_;
  bool recalls_ = false;  ///< what comes now stands in an earlier log
};

}  // namespace lapwright
