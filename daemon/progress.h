// Shows a shift on a terminal: one live line with a bar, and a line that stays for every step with its verdict.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "daemon/shift_observer.h"
#include "daemon/step_tracker.h"
#include "daemon/terminal_style.h"

namespace lapwright {

/// Where there is no live line (a file, a pipe, a dumb terminal) only lines that stay are written.
class Progress final : public ShiftObserver {
 public:
  using Write = std::function<void(std::string_view)>;
  Progress(TerminalStyle style, Write write) : style_(style), write_(std::move(write)) {}

  void engine_begins(const Job& job, int number, int of) override;
  void engine_ends(const Job& job, const JobResult& result) override;
  void phase(const std::string& what) override;
  void pass(int step, Direction direction, double speed_mm_s) override;
  void settled(const CellResult& cell) override;
  void progress(int settled_cells, int all_cells) override;

 private:
  void line(const std::string& text);
  void redraw();
  [[nodiscard]] std::string bar(int width) const;
  [[nodiscard]] std::string coloured(std::string_view text, Verdict verdict) const;
  [[nodiscard]] std::string_view plus_minus() const { return style_.blocks ? "±" : "+-"; }

  TerminalStyle style_;
  Write write_;
  const Job* job_ = nullptr;
  StepTracker steps_;
  std::string phase_;
  std::string last_pass_;
  int settled_ = 0;
  int all_ = 0;
  bool bar_stands_ = false;
};

}  // namespace lapwright
