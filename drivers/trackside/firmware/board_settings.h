// What is compiled into the board, so that nothing on the line can loosen it; each can be given to the compiler with
// -D.
#pragma once

// The board's own serial number, 1 to 12 of A-Z 0-9 and -.
#ifndef BOARD_SERIAL
#define BOARD_SERIAL "QT-0001"
#endif

// How many gates there are. Inputs that nothing is connected to rest on their pull-ups and do no harm.
#ifndef GATES
#define GATES 8
#endif

// Gates whose pin is high while the beam is blocked, bit 0 is gate 1. A beam's receiver conducts while it is lit: 1.
#ifndef BLOCKED_HIGH
#define BLOCKED_HIGH 0xFF
#endif

// Current, in either direction, that opens the relay when it lasts.
#ifndef TRIP_mA
#define TRIP_mA 1500
#endif

// How long it must last. Eight samples of 104 us; the inrush of a decoder is shorter.
#ifndef TRIP_us
#define TRIP_us 700
#endif

// How long the relay stays closed after the host renewed the lease.
#ifndef LEASE_ms
#define LEASE_ms 400
#endif

// Longest time with the relay closed in one go.
#ifndef ENERGISED_s
#define ENERGISED_s 14400
#endif

// The current sensor's output at no current, and its slope, both at a supply of 5.000 V.
#ifndef ZERO_mV
#define ZERO_mV 2500
#endif
#ifndef uV_PER_mA
#define uV_PER_mA 185
#endif

// Where the microsecond counter begins, in steps of 32768 us; other than 0 only in tests of its wrap.
#ifndef COUNTER_BEGINS_AT
#define COUNTER_BEGINS_AT 0UL
#endif

#define FIRMWARE_VERSION "1.0"

_Static_assert(sizeof(BOARD_SERIAL) >= 2 && sizeof(BOARD_SERIAL) <= 13, "BOARD_SERIAL has 1 to 12 characters");
_Static_assert(GATES >= 1 && GATES <= 8, "GATES is 1 to 8");
_Static_assert(BLOCKED_HIGH >= 0 && BLOCKED_HIGH <= 0xFF, "BLOCKED_HIGH has eight bits");
_Static_assert(TRIP_mA >= 1 && TRIP_mA <= 32767, "TRIP_mA is 1 to 32767");
_Static_assert(TRIP_us >= 0 && TRIP_us <= 2000, "TRIP_us is at most 2000");
_Static_assert(LEASE_ms >= 1 && LEASE_ms <= 2000, "LEASE_ms is 1 to 2000");
_Static_assert(ENERGISED_s >= 1 && ENERGISED_s <= 65535, "ENERGISED_s is 1 to 65535");
_Static_assert(ZERO_mV >= 100 && ZERO_mV <= 4000,
               "ZERO_mV is 100 to 4000: at 0 V a broken wire would read as no current");
_Static_assert(uV_PER_mA >= 50 && uV_PER_mA <= 10000, "uV_PER_mA is 50 to 10000");
