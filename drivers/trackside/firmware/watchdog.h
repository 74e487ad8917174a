// The chip's watchdog: why the board booted, and a reset within 125 ms when the program no longer gets round.
#pragma once

/// Why the board booted: p power, e reset pin, b brown-out, w watchdog (or a program that ran astray).
char watchdog_cause(void);

/// Once a millisecond; without these ticks the main loop may not feed.
void watchdog_tick(void);

/// From the main loop alone, once in each round.
void watchdog_feed(void);
