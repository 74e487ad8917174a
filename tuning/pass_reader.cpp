#include "tuning/pass_reader.h"

#include <algorithm>

namespace lapwright {
namespace {

constexpr double doubling_s = 0.2;  // a second edge so soon may be the real one

}  // namespace

PassReader::PassReader(const Trap& trap, Direction direction, double expected_mm_s, bool has_openings)
    : trap_(trap), direction_(direction), expected_mm_s_(expected_mm_s), has_openings_(has_openings) {}

bool PassReader::too_early(double at_s) const {
  return entered() && (at_s - *entry_.at_s) * expected_mm_s_ < 0.5 * trap_.base_mm;
}

void PassReader::feed(const Passage& passage) {
  if (epoch_ && *epoch_ != passage.epoch) {  // the board restarted in the middle: nothing before it counts
    entry_ = End{};
    exit_ = End{};
  }
  epoch_ = passage.epoch;
  if (trap_.times_laps()) {
    if (passage.gate != trap_.low_gate) return;
    if (direction_ == Direction::forward) watch_openings(passage);
    feed_gate(too_early(passage.at_s) || !entered() ? entry_ : exit_, passage);
    return;
  }
  if (passage.gate == trap_.entry(direction_)) {
    if (direction_ == Direction::forward) watch_openings(passage);
    if (!exit_.at_s) feed_gate(entry_, passage);
    if (entered()) missed_at_s_.reset();  // the end is only here: what the exit gate saw was an opening
  }
  if (passage.gate != trap_.exit(direction_)) return;
  const bool forward_end = passage.blocked == (direction_ == Direction::forward);
  if (!entered()) {
    if (forward_end) {
      missed_at_s_ = passage.at_s;
    } else if (missed_at_s_ && (passage.at_s - *missed_at_s_) * expected_mm_s_ < longest_opening_mm) {
      missed_at_s_.reset();
    }
    return;
  }
  if (!too_early(passage.at_s)) feed_gate(exit_, passage);
}

void PassReader::feed_gate(End& end, const Passage& passage) {
  if (direction_ == Direction::forward) {
    if (passage.blocked) come_in(end, passage.at_s);
  } else if (passage.blocked) {
    blocked_again(end);
  } else {
    go_out(end, passage.at_s);
  }
}

void PassReader::come_in(End& end, double at_s) const {
  if (!end.at_s) {
    end.at_s = at_s;
    return;
  }
  const double later_s = at_s - *end.at_s;
  if (!has_openings_ && later_s < doubling_s) end.doubt_s = std::max(end.doubt_s, later_s);
}

void PassReader::go_out(End& end, double at_s) const {
  const std::optional<double> before = end.at_s ? end.at_s : end.dismissed_s;
  if (before && !has_openings_ && at_s - *before < doubling_s) end.doubt_s = std::max(end.doubt_s, at_s - *before);
  end.at_s = at_s;
}

void PassReader::blocked_again(End& end) const {
  if (!end.at_s) return;
  end.dismissed_s = end.at_s;
  end.at_s.reset();
}

void PassReader::watch_openings(const Passage& passage) {
  if (!passage.blocked) {
    opened_s_ = passage.at_s;
  } else if (opened_s_ && entered()) {
    const double length_mm = (passage.at_s - *opened_s_) * expected_mm_s_;
    if (length_mm < longest_opening_mm) opening_seen_mm_ = std::max(opening_seen_mm_, length_mm);
  }
}

std::optional<double> PassReader::elapsed_s() const {
  if (!complete()) return std::nullopt;
  return *exit_.at_s - *entry_.at_s;
}

}  // namespace lapwright
