// Microseconds on Timer1 since the boot, and the millisecond tick on Timer2.
#pragma once

#include <stdint.h>

/// Timer1 counts half microseconds and overflows every 32768 us. The capture stores the counter, the low byte of the
/// overflows and the timer's flags, as they were at the edge; this makes one stamp of them, at most 8 s later.
struct TimerReading {
  uint16_t half_us;
  uint8_t overflows;
  uint8_t flags;
};

void clock_start(void);

/// Microseconds since the boot, wraps at 2^32. May be called anywhere.
uint32_t clock_now_us(void);

/// The stamp that belongs to a reading of the last 8 seconds.
uint32_t clock_stamp_us(struct TimerReading reading);

/// Milliseconds since the boot, wraps at 256.
uint8_t clock_ms(void);
