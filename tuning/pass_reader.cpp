#include "tuning/pass_reader.h"

#include <algorithm>
#include <cmath>

namespace lapwright {
namespace {

constexpr double compared_mm = 20;     // before it, at slow steps
constexpr double uneven_share = 0.05;  // of the time between two changes
constexpr double compared_before_s =
    0.25;  // a stamp, and after it, the gates are compared; nobody waits for longer then
constexpr double thinnest_mm = 2.5;
constexpr int changes_at_most = 24;  // at one gate: six parts, twice around
constexpr double compared_after_s = 0.1;
constexpr double doubling_s = 0.2;  // a second edge so soon may be the real one

}  // namespace

PassReader::PassReader(const Trap& trap, Direction direction, double expected_mm_s, bool has_openings)
    : trap_(trap), direction_(direction), expected_mm_s_(expected_mm_s), has_openings_(has_openings) {}

bool PassReader::too_early(double at_s) const {
  return entered() && (at_s - *entry_.at_s) * expected_mm_s_ < 0.5 * trap_.base_mm;
}

void PassReader::feed(const Passage& passage, bool of_the_end) {
  if (passage.gate != trap_.low_gate && passage.gate != trap_.high_gate) return;
  fed_.push_back(Fed{passage, of_the_end});
  if (of_the_end) judge(passage);
}

void PassReader::take_back(const Passage& passage) {
  std::vector<Fed> all = std::move(fed_);
  *this = PassReader(trap_, direction_, expected_mm_s_, has_openings_);
  for (Fed& each : all) {
    const bool meant = each.passage.gate == passage.gate && each.passage.at_s == passage.at_s;
    feed(each.passage, each.counts && !meant);
  }
}

bool PassReader::restless() const {
  for (const int gate : {trap_.low_gate, trap_.high_gate}) {
    const auto changes =
        std::count_if(fed_.begin(), fed_.end(), [&](const Fed& each) { return each.passage.gate == gate; });
    if (changes > changes_at_most) return true;
  }
  return false;
}

/// Two parts in a row that are thinner than any engine's.
bool PassReader::flickers(int gate, double at_s) const {
  std::optional<double> before_s;
  int thin = 0;
  for (const Fed& each : fed_) {
    const double off_s = each.passage.at_s - at_s;
    if (each.passage.gate != gate || off_s < -compared_before_s || off_s > compared_after_s) continue;
    const bool is_thin = before_s && (off_s - *before_s) * expected_mm_s_ < thinnest_mm;
    thin = is_thin ? thin + 1 : 0;
    if (thin == 2) return true;
    before_s = off_s;
  }
  return false;
}

bool PassReader::repeated(int gate, double at_s, int other_gate, double other_s, const Comparison& with) const {
  return std::all_of(fed_.begin(), fed_.end(), [&](const Fed& one) {
    const double off_s = one.passage.at_s - at_s;
    const double within_s = with.within_s + uneven_share * std::abs(off_s);
    if (one.passage.gate != gate || off_s < within_s - with.before_s || off_s > compared_after_s - within_s)
      return true;
    return std::any_of(fed_.begin(), fed_.end(), [&](const Fed& other) {
      return other.passage.gate == other_gate && other.passage.blocked == one.passage.blocked &&
             std::abs(other.passage.at_s - other_s - off_s) <= within_s;
    });
  });
}

bool PassReader::seen_alike(double within_s) const {
  if (!complete()) return false;
  const int entry = trap_.entry(direction_);
  const int exit = trap_.exit(direction_);
  if (flickers(entry, *entry_.at_s) || flickers(exit, *exit_.at_s)) return false;
  const double long_s = std::max(compared_before_s, compared_mm / expected_mm_s_);
  // Backing out, the parts before the end may have left the entry before anybody looked.
  const double at_exit_s = direction_ == Direction::forward ? long_s : compared_before_s;
  return repeated(entry, *entry_.at_s, exit, *exit_.at_s, {within_s, long_s}) &&
         repeated(exit, *exit_.at_s, entry, *entry_.at_s, {within_s, at_exit_s});
}

void PassReader::judge(const Passage& passage) {
  if (epoch_ && *epoch_ != passage.epoch) {  // the board restarted in the middle: nothing before it counts
    entry_ = End{};
    exit_ = End{};
  }
  epoch_ = passage.epoch;
  if (trap_.times_laps()) {
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
