#include "drivers/safety/stall_watch.h"

#include <algorithm>
#include <cmath>

#include "tuning/others_current.h"

namespace lapwright {
namespace {

constexpr double mean_s = 1;
constexpr double settled_s = 0.8;  // the mean of a track that has become live
constexpr int enough_passages = 3;
constexpr double least_mA = 20;  // lamps and sensors' noise alone are no stall

}  // namespace

void StallWatch::commanded(int step) {
  if ((step > 0) != (step_ > 0)) high_since_.reset();
  if (step > 0 && step_ == 0 && stood_s_ > settled_s)
    standing_mA_ = std::min(mean_mA_, standing_mA_.value_or(mean_mA_));
  if (step > 0) stood_s_ = 0;
  step_ = step;
}

void StallWatch::passage() {
  high_since_.reset();
  if (step_ == 0) return;
  ++passages_;
  highest_step_ = std::max(highest_step_, step_);
  usual_mA_ = std::max(usual_mA_, mean_mA_);
}

bool StallWatch::feed(Instant now, double current_mA) {
  const double passed_s = std::clamp(in_seconds(now - fed_), 0.0, mean_s);
  fed_ = now;
  (step_ > 0 ? fed_s_ : stood_s_) += passed_s;
  mean_mA_ += (current_mA - mean_mA_) * (1 - std::exp(-passed_s / mean_s));
  const double others_mA = drawn_by_others_mA(standing_mA_);
  const double limit_mA = others_mA + std::max(limits_.share * (usual_mA_ - others_mA), least_mA);
  const bool high = step_ > 0 && step_ <= highest_step_ && passages_ >= enough_passages && mean_mA_ > limit_mA;
  if (!high) high_since_.reset();
  if (high && !high_since_) high_since_ = now;
  return high && now - *high_since_ >= seconds(limits_.within_s);
}

}  // namespace lapwright
