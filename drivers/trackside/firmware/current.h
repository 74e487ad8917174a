// The track current: sampled every 104 us, and the trip decided in the converter's own interrupt.
#pragma once

#include <stdbool.h>
#include <stdint.h>

struct Current {
  int32_t mean_mA;
  int32_t peak_mA;  // the sample farthest from zero
};

void current_start(void);

/// Once a millisecond: a converter that no longer delivers is a faulty sensor.
void current_tick(void);

/// Whether the last sample was above the trip, in either direction.
bool current_is_over(void);

/// Whether the last sample was at an end of the range, or none came.
bool current_is_implausible(void);

/// Mean and peak since the last call.
struct Current current_take(void);
