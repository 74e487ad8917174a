#include "drivers/trackside/firmware/watchdog.h"

#include <avr/io.h>
#include <avr/wdt.h>
#include <stdbool.h>
#include <stdint.h>

static uint8_t reset_flags __attribute__((section(".noinit")));
static volatile bool ticked;

// Before the C start-up: after its own reset the watchdog runs on with 16 ms.
__attribute__((naked, used, section(".init3"))) static void read_cause(void) {
  reset_flags = MCUSR;
  MCUSR = 0;
  // The chip's oscillator may be a third off; the relay must be open 300 ms after the last feed.
  wdt_enable(WDTO_120MS);
}

char watchdog_cause(void) {
  if (reset_flags & _BV(WDRF)) return 'w';
  if (reset_flags & _BV(PORF)) return 'p';
  if (reset_flags & _BV(BORF)) return 'b';
  if (reset_flags & _BV(EXTRF)) return 'e';
  return 'w';  // no reset at all: the program jumped to its beginning
}

void watchdog_tick(void) { ticked = true; }

void watchdog_feed(void) {
  if (!ticked) return;
  ticked = false;
  wdt_reset();
}
