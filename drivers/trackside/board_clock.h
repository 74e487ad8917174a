// How the board's counter runs against the host's clock: its drift, and stamps freed from it.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>

#include "tuning/clock.h"

namespace lapwright::trackside {

/// Of one epoch of the board. Speeds are measured with the board's counter, and a ceramic resonator may be off by half
/// a per cent: what the host's clock says of it over minutes is taken off. Answers to host lines give pairs of times;
/// those that came back quickest say most.
class BoardClock {
 public:
  /// One exchange: the board's counter at some moment between the two of the host.
  void note(Instant sent, Instant heard, std::uint32_t stamp_us);
  /// The counter as it would stand if it ran as the host's clock does, from the first stamp on; wraps at 2^32. Steady:
  /// what is learnt changes its pace from now on, never what was.
  [[nodiscard]] std::uint32_t corrected_us(std::uint32_t stamp_us);
  /// Share by which the board's counter runs too fast; empty until it is known to about 100 parts in a million.
  [[nodiscard]] std::optional<double> drift() const { return drift_; }

 private:
  struct Sample {
    double host_s = 0;   ///< middle of the exchange, since the first
    double board_s = 0;  ///< since the first
    double doubt_s = 0;  ///< half of the time that it took
  };
  [[nodiscard]] double unwrapped_s(std::uint32_t stamp_us);
  void keep(const Sample& sample);
  void learn();

  std::optional<Instant> first_;
  std::uint32_t last_us_ = 0;
  std::int64_t since_first_us_ = 0;  ///< of the last stamp
  std::deque<Sample> samples_;       ///< the best of each stretch
  std::optional<double> drift_;
  double turn_board_s_ = 0;  ///< where the present pace began
  double turn_corrected_s_ = 0;
  double pace_ = 1;
  bool known_ = false;  ///< a stamp was seen
  std::uint32_t first_us_ = 0;
};

}  // namespace lapwright::trackside
