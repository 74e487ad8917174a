// Preloaded before the service: the time of day jumps an hour on after two seconds and two hours back after four, as if
// somebody had set the clock. The monotonic clock goes on.
#include <dlfcn.h>

#include <ctime>

namespace {

using Gettime = int (*)(clockid_t, timespec*);

Gettime real_gettime() {
  static const auto found = reinterpret_cast<Gettime>(::dlsym(RTLD_NEXT, "clock_gettime"));
  return found;
}

time_t shift_s() {
  timespec now{};
  real_gettime()(CLOCK_MONOTONIC, &now);
  static const time_t began = now.tv_sec;
  if (now.tv_sec - began >= 4) return -7200;
  return now.tv_sec - began >= 2 ? 3600 : 0;
}

}  // namespace

extern "C" int clock_gettime(clockid_t clock, timespec* at) noexcept {
  const int result = real_gettime()(clock, at);
  if (clock == CLOCK_REALTIME) at->tv_sec += shift_s();
  return result;
}

extern "C" time_t time(time_t* at) noexcept {
  timespec now{};
  clock_gettime(CLOCK_REALTIME, &now);
  if (at != nullptr) *at = now.tv_sec;
  return now.tv_sec;
}
