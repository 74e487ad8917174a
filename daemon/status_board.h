// What the service knows of itself, as JSON lines for the control socket: one status, and events as they happen.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <string>

#include "daemon/shift_observer.h"
#include "daemon/step_tracker.h"

namespace lapwright {

class StatusBoard final : public ShiftObserver {
 public:
  explicit StatusBoard(std::string railway);
  /// Gets every event as one JSON line without newline.
  void on_event(std::function<void(const std::string&)> listener) { listener_ = std::move(listener); }

  /// "starting", "working", "waiting", "stopping", "idle" or "dead" (made so by a person or a fault).
  void set_state(const std::string& state, const std::string& why);
  [[nodiscard]] const std::string& state() const { return state_; }
  [[nodiscard]] std::string status_line() const;

  void engine_begins(const Job& job, int number, int of) override;
  void engine_ends(const Job& job, const JobResult& result) override;
  void waits(const std::string& why) override { set_state(why.empty() ? "working" : "waiting", why); }
  void phase(const std::string& what) override;
  void pass(int step, Direction direction, double speed_mm_s) override;
  void settled(const CellResult& cell) override;
  void progress(int settled_cells, int all_cells) override;

 private:
  using Json = nlohmann::ordered_json;
  void tell(const Json& event);

  std::function<void(const std::string&)> listener_;
  std::string railway_;
  std::string state_ = "starting";
  std::string why_;
  const Job* job_ = nullptr;
  StepTracker steps_;
  Json engine_;  ///< under work; null between engines
  Json done_ = Json::array();
};

}  // namespace lapwright
