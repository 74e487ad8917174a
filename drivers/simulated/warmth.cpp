#include "drivers/simulated/warmth.h"

#include <algorithm>

namespace lapwright::simulated {

namespace {
constexpr double usual_load = 0.15;  // at which the described time constants hold
}  // namespace

void Warmth::advance(double dt_s, bool running, double load) {
  const double work = running ? std::clamp(0.7 + 0.3 * load / usual_load, 0.7, 1.6) : 1 / thermal_.cool_down;
  const double goal = running ? 1 : 0;
  const double pace = std::min(1.0, work * dt_s / thermal_.warm_up_s);
  gears_ += (goal - gears_) * pace;
  motor_ += (goal - motor_) * pace / thermal_.motor_share;
}

}  // namespace lapwright::simulated
