#include "tuning/pass_reader.h"

#include <algorithm>

namespace lapwright {
namespace {

constexpr double doubling_s = 0.2;  // a second edge so soon may be the real one
constexpr double deepest_gap_mm = 60;

}  // namespace

PassReader::PassReader(const Trap& trap, Direction direction, double expected_mm_s, double gap_mm)
    : trap_(trap), direction_(direction), expected_mm_s_(expected_mm_s), gap_mm_(gap_mm) {}

bool PassReader::later_counts(double earlier_s, double later_s) const {
  return direction_ == Direction::reverse && gap_mm_ > 0 && (later_s - earlier_s) * expected_mm_s_ < 1.5 * gap_mm_;
}

void PassReader::feed(const Passage& passage) {
  if (epoch_ && *epoch_ != passage.epoch) {  // the board restarted in the middle: nothing before it counts
    entry_s_.reset();
    exit_s_.reset();
  }
  epoch_ = passage.epoch;
  if (passage.blocked != (direction_ == Direction::forward)) return;  // the other end, or the edge of an opening
  if (trap_.times_laps()) {
    if (passage.gate != trap_.low_gate) return;
    if (!entered()) {
      feed_entry(passage.at_s);
    } else if ((passage.at_s - *entry_s_) * expected_mm_s_ < 0.5 * trap_.base_mm) {
      feed_entry(passage.at_s);
    } else {
      feed_exit(passage.at_s);
    }
    return;
  }
  if (passage.gate == trap_.entry(direction_)) feed_entry(passage.at_s);
  if (passage.gate == trap_.exit(direction_)) feed_exit(passage.at_s);
}

void PassReader::feed_entry(double at_s) {
  if (complete()) return;
  if (!entered()) {
    entry_s_ = at_s;
    return;
  }
  const double later_s = at_s - *entry_s_;
  if (later_counts(*entry_s_, at_s)) {
    entry_s_ = at_s;
  } else if (later_s < doubling_s) {
    doubt_s_ = std::max(doubt_s_, later_s);
  }
  const double depth_mm = later_s * expected_mm_s_;
  if (direction_ == Direction::forward && depth_mm < deepest_gap_mm) gap_seen_mm_ = std::max(gap_seen_mm_, depth_mm);
}

void PassReader::feed_exit(double at_s) {
  if (!entered()) {
    entry_missed_ = true;
    return;
  }
  if (!complete()) {
    if ((at_s - *entry_s_) * expected_mm_s_ < 0.5 * trap_.base_mm) return;  // too early to be the engine
    exit_s_ = at_s;
    return;
  }
  const double later_s = at_s - *exit_s_;
  if (later_counts(*exit_s_, at_s)) {
    exit_s_ = at_s;
  } else if (later_s < doubling_s) {
    doubt_s_ = std::max(doubt_s_, later_s);
  }
}

std::optional<double> PassReader::elapsed_s() const {
  if (!complete()) return std::nullopt;
  return *exit_s_ - *entry_s_;
}

}  // namespace lapwright
