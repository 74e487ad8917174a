#include "drivers/safety/current_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr double longest_gap_s = 1;  // a reading stands for no more time than this

}  // namespace

CurrentLimits usual_limits(double ratio) {
  CurrentLimits limits;
  const auto set = [&](double peak_mA) {
    limits.peak_mA = peak_mA;
    limits.mean_mA = peak_mA / 2;
  };
  if (ratio >= 140) set(1000);  // N and smaller
  if (ratio < 70) set(3000);    // S
  if (ratio < 50) set(4000);    // 0
  if (ratio < 40) set(6000);    // 1, and garden railways
  return limits;
}

std::optional<Stop> CurrentWatch::feed(Instant now, double current_mA) {
  const double gap_s = readings_.empty() ? 0 : std::min(in_seconds(now - readings_.back().at), longest_gap_s);
  readings_.push_back({now, current_mA * gap_s});
  charge_mAs_ += readings_.back().charge_mAs;
  while (now - readings_.front().at > seconds(window_s)) {
    charge_mAs_ -= readings_.front().charge_mAs;
    readings_.pop_front();
  }
  if (current_mA <= limits_.peak_mA) {
    above_since_.reset();
  } else if (!above_since_) {
    above_since_ = now;
  }
  if (above_since_ && now - *above_since_ >= seconds(limits_.peak_s)) {
    return Stop{StopReason::over_current, "the track draws " + whole(current_mA) + " mA, the limit is " +
                                              whole(limits_.peak_mA) +
                                              " mA. Look for a short circuit or blocked wheels before starting again"};
  }
  if (mean_mA() > limits_.mean_mA) {
    return Stop{StopReason::mean_current, "the track drew " + whole(mean_mA()) +
                                              " mA on average for a minute, the limit is " + whole(limits_.mean_mA) +
                                              " mA. Look for an engine that drags, is stalled or is too warm"};
  }
  return std::nullopt;
}

}  // namespace lapwright
