#include "drivers/trackside/firmware/clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "drivers/trackside/firmware/board_settings.h"
#include "drivers/trackside/firmware/current.h"
#include "drivers/trackside/firmware/relay.h"
#include "drivers/trackside/firmware/watchdog.h"

// The low byte of the count of overflows is GPIOR0, where the capture reads it with one instruction.
static volatile uint16_t overflows_high;
static volatile uint8_t ticks_ms;

void clock_start(void) {
  GPIOR0 = (uint8_t)(COUNTER_BEGINS_AT & 0xFFU);
  overflows_high = (uint16_t)((COUNTER_BEGINS_AT >> 8) & 0xFFFFU);
  TCCR1A = 0;
  TIMSK1 = _BV(TOIE1);
  TCCR1B = _BV(CS11);  // 16 MHz / 8

  TCCR2A = _BV(WGM21);
  OCR2A = 249;
  TIMSK2 = _BV(OCIE2A);
  TCCR2B = _BV(CS22);  // 16 MHz / 64 / 250
}

ISR(TIMER1_OVF_vect) {
  if (++GPIOR0 == 0) ++overflows_high;
}

// The rules that need only the passing of time; other interrupts may come in between, the gates' above all.
ISR(TIMER2_COMPA_vect, ISR_NOBLOCK) {
  ++ticks_ms;
  current_tick();
  relay_tick();
  watchdog_tick();
}

// An overflow that has not been counted yet shows as the timer's flag together with a small count.
static uint32_t overflows_at(uint32_t counted, uint16_t half_us, uint8_t flags) {
  const uint8_t pending = (flags & _BV(TOV1)) && half_us < 0x8000U;
  return pending ? counted + 1 : counted;
}

static uint32_t to_us(uint32_t overflows, uint16_t half_us) { return (overflows << 15) + (half_us >> 1); }

uint32_t clock_now_us(void) {
  uint16_t half_us, high;
  uint8_t low, flags;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    half_us = TCNT1;
    flags = TIFR1;
    low = GPIOR0;
    high = overflows_high;
  }
  return to_us(overflows_at(((uint32_t)high << 8) | low, half_us, flags), half_us);
}

uint32_t clock_stamp_us(struct TimerReading reading) {
  uint16_t high;
  uint8_t low;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    low = GPIOR0;
    high = overflows_high;
  }
  const uint32_t now = ((uint32_t)high << 8) | low;
  const uint32_t then = now - (uint8_t)(low - reading.overflows);
  return to_us(overflows_at(then, reading.half_us, reading.flags), reading.half_us);
}

uint8_t clock_ms(void) { return ticks_ms; }
