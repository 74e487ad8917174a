#include "drivers/safety/guard_limits.h"

#include "tuning/cv.h"

namespace lapwright {

std::set<int> cvs_of_a_tune() {
  std::set<int> result = {cv::start_voltage,
                          cv::acceleration,
                          cv::deceleration,
                          cv::top_voltage,
                          cv::mid_voltage,
                          cv::consist_address,
                          cv::acceleration_adjustment,
                          cv::deceleration_adjustment,
                          cv::configuration,
                          cv::kick_start};
  for (int number = cv::forward_trim; number <= cv::reverse_trim; ++number) result.insert(number);
  return result;
}

}  // namespace lapwright
