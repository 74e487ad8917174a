#include "daemon/calendar.h"

#include <array>

namespace lapwright {
namespace {

std::string formatted(std::time_t at, const char* pattern) {
  std::tm local{};
  ::localtime_r(&at, &local);
  std::array<char, 64> text{};
  return {text.data(), std::strftime(text.data(), text.size(), pattern, &local)};
}

}  // namespace

std::string date_text(std::time_t at) { return formatted(at, "%Y-%m-%d"); }
std::string time_text(std::time_t at) { return formatted(at, "%Y-%m-%d %H:%M:%S %z"); }

}  // namespace lapwright
