// The serial line at 115200 baud, 8N1: host lines put together in the interrupt, and a ring of bytes to send.
#pragma once

#include <stdbool.h>
#include <stdint.h>

#define LINE_BYTES 80U  // at most, LF included

struct HostLine {
  uint32_t stamp_us;  // when its LF was received
  uint8_t stops;      // relay_stops() at that time
  uint8_t length;     // without CR and LF
  char text[LINE_BYTES];
};

void uart_start(void);

/// The oldest line that was not dropped yet, or null. It stays valid until uart_drop_line().
const struct HostLine* uart_line(void);
void uart_drop_line(void);

/// Lines that could not be read are counted, here and by the one who reads them.
void uart_count_bad(void);
uint16_t uart_bad(void);

/// Whether a line of the greatest length may be written now.
bool uart_has_room(void);
void uart_write(uint8_t byte);
