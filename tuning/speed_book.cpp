#include "tuning/speed_book.h"

namespace lapwright {

int SpeedBook::step_near(double wish_mm_s, Direction direction) const {
  int best = 0;
  for (int step = 1; step <= top(); ++step) {
    const double speed = get(step, direction);
    if (speed <= 0) continue;
    const double held = best == 0 ? 0 : get(best, direction);
    const bool better = held > wish_mm_s ? speed < held : speed <= wish_mm_s && speed > held;
    if (best == 0 || better) best = step;
  }
  return best;
}

}  // namespace lapwright
