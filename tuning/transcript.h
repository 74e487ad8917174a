// What the track told a tune, in order: with it another tune of the same order comes to the same point without running
// the engine, and goes on from there.
#pragma once

#include <cstddef>
#include <type_traits>
#include <variant>
#include <vector>

#include "tuning/pass_order.h"

namespace lapwright {

/// The gates saw the engine for the first time, or anew.
struct Sighted {
  int value = 0;               ///< of the table's first entry
  double speed_mm_s = 0;       ///< 0: it stood where a proof had left it
  bool low_came_first = true;  ///< it faces as the trap was thought to lie
  double running_s = 0;        ///< of the engine
};

/// One attempt at a pass, failed ones included.
struct Passed {
  int step = 0;
  Direction direction = Direction::forward;
  double drive = 0;  ///< counts
  PassReading reading;
  double running_s = 0;   ///< of the engine, when it was over
  bool of_proof = false;  ///< taken before the tune began, by the proof of settings that did not hold
};

/// What a search after a failed pass found.
struct Recovered {
  Whereabouts found = Whereabouts::lost;
};

/// A tune that went on has found the engine again.
struct Located {
  bool turned = false;  ///< it faces the other way now
};

using HeardOfTrack = std::variant<Sighted, Passed, Recovered, Located>;

struct Heard {
  double at_s = 0;  ///< of the tune's own time, interruptions left out
  HeardOfTrack what;
};

/// Reads what was heard before, one thing after another.
class Transcript {
 public:
  Transcript() = default;
  explicit Transcript(const std::vector<Heard>& heard) : heard_(&heard) {}

  [[nodiscard]] bool through() const { return heard_ == nullptr || next_ >= heard_->size(); }
  /// The next thing, if it is one of that kind; null otherwise.
  template <class What>
  [[nodiscard]] const What* peek() const {
    return through() ? nullptr : std::get_if<What>(&(*heard_)[next_].what);
  }
  /// The same, and on to the one after it; nothing is taken if it is of another kind.
  template <class What>
  const What* take() {
    const What* what = peek<What>();
    if (what == nullptr) return nullptr;
    at_s_ = (*heard_)[next_++].at_s;
    if constexpr (std::is_same_v<What, Located>) ++times_located_;
    return what;
  }
  [[nodiscard]] double at_s() const { return at_s_; }  ///< of what was taken, or heard, last
  void heard(double at_s) { at_s_ = at_s; }            ///< something new, once it is through
  void located() { ++times_located_; }                 ///< just now, as it is told there
  [[nodiscard]] int times_located() const { return times_located_; }
  /// Whatever is left, in order; the transcript is through then.
  [[nodiscard]] std::vector<Heard> rest() {
    if (through()) return {};
    std::vector<Heard> left(heard_->begin() + static_cast<std::ptrdiff_t>(next_), heard_->end());
    next_ = heard_->size();
    at_s_ = left.back().at_s;
    return left;
  }

 private:
  const std::vector<Heard>* heard_ = nullptr;
  std::size_t next_ = 0;
  double at_s_ = 0;
  int times_located_ = 0;
};

}  // namespace lapwright
