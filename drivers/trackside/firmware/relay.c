#include "drivers/trackside/firmware/relay.h"

#include <avr/io.h>
#include <util/atomic.h>

#include "drivers/trackside/firmware/board_settings.h"
#include "drivers/trackside/firmware/current.h"
#include "drivers/trackside/firmware/pins.h"

// The contact is open when it was so in this many ticks: longer than a spark's disturbance, far shorter than a finger.
#define BUTTON_OPEN_ms 3U
#define FLASH_ms 250U

static volatile char latched;
static volatile bool changed;
static volatile uint8_t stops;
static volatile uint16_t lease_left_ms;
static volatile uint16_t energised_s;
static uint16_t energised_ms;
static uint8_t button_open_ms;

void relay_start(char fault) {
  PORTD = _BV(BUTTON_BIT);
  DDRD |= _BV(RELAY_BIT) | _BV(LED_BIT);
  latched = fault;
}

bool relay_is_closed(void) { return PORTD & _BV(RELAY_BIT); }

char relay_fault(void) { return latched; }

void relay_trip(char fault) {
  PORTD &= (uint8_t)~_BV(RELAY_BIT);
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    if (latched == NO_FAULT) {
      latched = fault;
      changed = true;
    }
  }
}

void relay_open(void) {
  if (relay_is_closed()) changed = true;
  PORTD &= (uint8_t)~_BV(RELAY_BIT);
}

static bool button_is_open(void) { return PIND & _BV(BUTTON_BIT); }

enum Result relay_close(void) {
  enum Result result = RESULT_OK;
  // No trip may come between the questions and the pin.
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    if (latched != NO_FAULT) {
      result = RESULT_FAULT;
    } else if (lease_left_ms == 0) {
      result = RESULT_LEASE;
    } else if (current_is_over()) {
      result = RESULT_OVER;
    } else if (current_is_implausible()) {
      result = RESULT_SENSOR;
    } else if (!relay_is_closed()) {
      energised_s = 0;
      energised_ms = 0;
      changed = true;
      PORTD |= _BV(RELAY_BIT);
    }
  }
  return result;
}

void relay_stop(void) {
  relay_trip('h');
  ++stops;
}

uint8_t relay_stops(void) { return stops; }

enum Result relay_clear(uint8_t stops_then) {
  if (current_is_over()) return RESULT_OVER;
  if (current_is_implausible()) return RESULT_SENSOR;
  if (button_is_open()) return RESULT_BUTTON;
  enum Result result = RESULT_FAULT;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    if (stops == stops_then) {
      if (latched != NO_FAULT) changed = true;
      latched = NO_FAULT;
      result = RESULT_OK;
    }
  }
  return result;
}

void relay_renew_lease(void) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { lease_left_ms = LEASE_ms; }
}

static void lease_tick(void) {
  if (lease_left_ms == 0) return;
  if (--lease_left_ms == 0 && relay_is_closed()) relay_trip('l');
}

static void energised_tick(void) {
  if (!relay_is_closed() || ++energised_ms < 1000U) return;
  energised_ms = 0;
  if (++energised_s >= ENERGISED_s) relay_trip('t');
}

static void button_tick(void) {
  if (!button_is_open()) {
    button_open_ms = 0;
  } else if (button_open_ms < BUTTON_OPEN_ms) {
    ++button_open_ms;
  } else {
    relay_trip('b');
  }
}

static void led_tick(void) {
  static uint8_t flash_ms;
  if (latched == NO_FAULT) {
    if (relay_is_closed()) {
      PORTD |= _BV(LED_BIT);
    } else {
      PORTD &= (uint8_t)~_BV(LED_BIT);
    }
  } else if (++flash_ms >= FLASH_ms) {
    flash_ms = 0;
    PIND = _BV(LED_BIT);  // toggles
  }
}

void relay_tick(void) {
  lease_tick();
  energised_tick();
  button_tick();
  led_tick();
}

uint16_t relay_lease_ms(void) {
  uint16_t left;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { left = lease_left_ms; }
  return left;
}

uint16_t relay_energised_s(void) {
  uint16_t seconds;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { seconds = energised_s; }
  return relay_is_closed() ? seconds : 0;
}

bool relay_take_change(void) {
  bool was;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    was = changed;
    changed = false;
  }
  return was;
}
