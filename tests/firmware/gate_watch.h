// Every change of the gates' pins, and the board's lines about them held against it.
#pragma once

#include <array>
#include <cmath>
#include <deque>

#include "tests/firmware/host.h"

namespace lapwright::firmware {

class GateWatch {
 public:
  /// begins_us: where the board's counter begins.
  explicit GateWatch(VirtualBoard& board, std::uint32_t begins_us = 0) : board_(board), begins_us_(begins_us) {}

  void toggle(int gate) {
    const bool high = !board_.gate_is_high(gate);
    changes_.at(static_cast<std::size_t>(gate - 1)).push_back({board_.cycle(), high});
    board_.set_gate(gate, high);
    ++changes;
  }

  /// Finds the change that an edge line tells of: of the same gate and direction, with this stamp within 5 us. The
  /// gate's older changes without a line are counted as passed over.
  void take(const BoardLine& line) {
    if (line.kind != 'e') return;
    ++edges;
    auto& open = changes_.at(static_cast<std::size_t>(line.number(0) - 1));
    ++edges_of.at(static_cast<std::size_t>(line.number(0) - 1));
    while (!open.empty()) {
      const auto [cycle, high] = open.front();
      const double error_us = stamp_error_us(board_, line.hex(2), cycle, begins_us_);
      if (error_us < -5) break;  // this change is later than the edge
      open.pop_front();
      if (error_us > 5 || high != (line.fields[1] == "1")) {
        ++passed_over;
        continue;
      }
      least_us = std::min(least_us, error_us);
      most_us = std::max(most_us, error_us);
      longest_wait_ms = std::max(longest_wait_ms, ms_between(cycle, line.ended_cycle));
      return;
    }
    ++unexplained;
  }

  int changes = 0;
  int edges = 0;
  int passed_over = 0;
  int unexplained = 0;  ///< edges that no change explains
  std::array<int, 8> edges_of{};
  double least_us = 1e9, most_us = -1e9;  ///< stamp less truth
  double longest_wait_ms = 0;             ///< from the change to the end of its line

 private:
  struct Change {
    std::uint64_t cycle;
    bool high;
  };
  VirtualBoard& board_;
  std::uint32_t begins_us_;
  std::array<std::deque<Change>, 8> changes_;
};

}  // namespace lapwright::firmware
