// Measured values in sentences for people: whole numbers do.
#pragma once

#include <cmath>
#include <string>

namespace lapwright {

[[nodiscard]] inline std::string whole(double value) { return std::to_string(std::lround(value)); }

}  // namespace lapwright
