#include "drivers/trackside/board_clock.h"

#include <algorithm>
#include <cmath>

namespace lapwright::trackside {
namespace {

constexpr double stretch_s = 5;
constexpr std::size_t most_samples = 120;    // ten minutes: resonators wander with their warmth
constexpr double good_doubt = 1e-4;          // of the drift
constexpr double largest_believable = 0.02;  // more is no drift but a fault in the stamps
constexpr double us = 1e-6;

}  // namespace

double BoardClock::unwrapped_s(std::uint32_t stamp_us) {
  if (!known_) {
    known_ = true;
    first_us_ = last_us_ = stamp_us;
  }
  // The nearer of the two ways round: stamps may come a little out of order.
  since_first_us_ += static_cast<std::int32_t>(stamp_us - last_us_);
  last_us_ = stamp_us;
  return static_cast<double>(since_first_us_) * us;
}

std::uint32_t BoardClock::corrected_us(std::uint32_t stamp_us) {
  const double board_s = unwrapped_s(stamp_us);
  const double corrected_s = turn_corrected_s_ + pace_ * (board_s - turn_board_s_);
  return first_us_ + static_cast<std::uint32_t>(std::llround(corrected_s / us));
}

void BoardClock::note(Instant sent, Instant heard, std::uint32_t stamp_us) {
  if (!first_) first_ = sent;
  const double doubt_s = in_seconds(heard - sent) / 2;
  keep(Sample{in_seconds(sent - *first_) + doubt_s, unwrapped_s(stamp_us), doubt_s});
  learn();
}

void BoardClock::keep(const Sample& sample) {
  const bool same_stretch =
      !samples_.empty() && std::floor(samples_.back().host_s / stretch_s) == std::floor(sample.host_s / stretch_s);
  if (!same_stretch) {
    samples_.push_back(sample);
    if (samples_.size() > most_samples) samples_.pop_front();
  } else if (sample.doubt_s < samples_.back().doubt_s) {
    samples_.back() = sample;
  }
}

void BoardClock::learn() {
  // Weighted least squares of host time over board time; an exchange's doubt is taken for its standard deviation.
  double weight = 0, host = 0, board = 0;
  for (const Sample& sample : samples_) {
    const double w = 1 / (sample.doubt_s * sample.doubt_s + us * us);
    weight += w;
    host += w * sample.host_s;
    board += w * sample.board_s;
  }
  host /= weight;
  board /= weight;
  double square = 0, product = 0;
  for (const Sample& sample : samples_) {
    const double w = 1 / (sample.doubt_s * sample.doubt_s + us * us);
    square += w * (sample.board_s - board) * (sample.board_s - board);
    product += w * (sample.board_s - board) * (sample.host_s - host);
  }
  if (samples_.size() < 3 || square <= 0 || 1 / std::sqrt(square) > good_doubt) return;
  const double pace = product / square;
  if (std::abs(pace - 1) > largest_believable) return;
  drift_ = 1 / pace - 1;
  const double now_s = static_cast<double>(since_first_us_) * us;
  turn_corrected_s_ += pace_ * (now_s - turn_board_s_);
  turn_board_s_ = now_s;
  pace_ = pace;
}

}  // namespace lapwright::trackside
