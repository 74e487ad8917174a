// The relay in the track feed, the latched fault, and the rules in time that open it: lease, longest time, stop button.
#pragma once

#include <stdbool.h>
#include <stdint.h>

#define NO_FAULT '-'

/// What the board answers; the words are in command.c.
enum Result {
  RESULT_OK,
  RESULT_WHAT,
  RESULT_ARGS,
  RESULT_FAULT,
  RESULT_LEASE,
  RESULT_OVER,
  RESULT_SENSOR,
  RESULT_BUTTON
};

/// Before anything else: the pin is low, and the fault is the one that the boot itself means, or none.
void relay_start(char fault);

/// Once a millisecond.
void relay_tick(void);

/// Opens the relay and latches the fault unless one is latched already. From anywhere.
void relay_trip(char fault);

enum Result relay_close(void);
void relay_open(void);

/// The host's byte 18: opens the relay and counts, so that no older `C` clears what it latched.
void relay_stop(void);
uint8_t relay_stops(void);

/// Clears the fault, if relay_stops() is still what it was when the host's line was received.
enum Result relay_clear(uint8_t stops_then);

void relay_renew_lease(void);

bool relay_is_closed(void);
char relay_fault(void);
uint16_t relay_lease_ms(void);
uint16_t relay_energised_s(void);

/// Whether relay or fault changed since the last call.
bool relay_take_change(void);
