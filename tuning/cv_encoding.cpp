#include "tuning/cv_encoding.h"

#include <cmath>
#include <stdexcept>
#include <string>

namespace lapwright::cv {

std::uint8_t share_to_cv(double share) {
  if (!(share >= 0 && share <= 1)) {
    throw std::out_of_range("a share of " + std::to_string(share) + " can't be stored in a CV; give 0 … 1");
  }
  return static_cast<std::uint8_t>(std::lround(share * 255));
}

std::uint8_t consist_functions(std::initializer_list<int> functions) {
  unsigned bits = 0;
  for (const int function : functions) {
    if (function < 1 || function > 8) {
      throw std::out_of_range("CV21 has no bit for F" + std::to_string(function) + "; it holds F1 … F8");
    }
    bits |= 1U << (function - 1);
  }
  return static_cast<std::uint8_t>(bits);
}

}  // namespace lapwright::cv
