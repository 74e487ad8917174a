#include "drivers/trackside/firmware/uart.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "drivers/trackside/firmware/clock.h"
#include "drivers/trackside/firmware/relay.h"

#define CANCEL 0x18U
#define DIVIDER 16U  // of 16 MHz / 8: 117647 baud, 2.1 % above 115200

#define SLOTS 2U
static struct HostLine slots[SLOTS];
static volatile uint8_t lines_in, lines_out;  // counted; the slot is the count's last bit
static volatile uint16_t bad;
static uint8_t length;
static bool spoilt;  // until the next LF

#define RING_BYTES 128U
static uint8_t ring[RING_BYTES];
static volatile uint8_t ring_in, ring_out;

void uart_start(void) {
  UCSR0A = _BV(U2X0);
  UBRR0 = DIVIDER;
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

static void spoil_line(void) {
  if (!spoilt) ++bad;
  spoilt = true;
}

static void end_line(void) {
  if (!spoilt) {
    struct HostLine* const line = &slots[lines_in % SLOTS];
    if (length > 0 && line->text[length - 1U] == '\r') --length;
    line->stamp_us = clock_now_us();
    line->stops = relay_stops();
    line->length = length;
    ++lines_in;
  }
  spoilt = false;
  length = 0;
}

static void take_byte(uint8_t byte) {
  if (byte == CANCEL) {
    relay_stop();
    if (length > 0) spoil_line();
  } else if ((uint8_t)(lines_in - lines_out) == SLOTS) {  // the host did not wait for its answers
    spoil_line();
    if (byte == '\n') end_line();
  } else if (byte == '\n') {
    end_line();
  } else if (length == LINE_BYTES) {
    spoil_line();
  } else {
    slots[lines_in % SLOTS].text[length++] = (char)byte;
  }
}

// Switched off for the while, so that other interrupts may come in between, the gates' above all, but never itself: with
// all of them in between, the next byte may be there already. The chip keeps two.
ISR(USART_RX_vect) {
  const uint8_t flawed = UCSR0A & (_BV(FE0) | _BV(DOR0));
  const uint8_t byte = UDR0;
  UCSR0B &= (uint8_t)~_BV(RXCIE0);
  sei();
  if (flawed) spoil_line();
  take_byte(byte);
  cli();
  UCSR0B |= _BV(RXCIE0);
  sei();  // already: the many registers that are restored now would keep an edge waiting
}

const struct HostLine* uart_line(void) { return lines_in == lines_out ? 0 : &slots[lines_out % SLOTS]; }

void uart_drop_line(void) { ++lines_out; }

void uart_count_bad(void) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { ++bad; }
}

uint16_t uart_bad(void) {
  uint16_t count;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { count = bad; }
  return count;
}

bool uart_has_room(void) { return (uint8_t)(ring_in - ring_out) <= RING_BYTES - LINE_BYTES; }

void uart_write(uint8_t byte) {
  ring[ring_in % RING_BYTES] = byte;
  ++ring_in;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { UCSR0B |= _BV(UDRIE0); }
}

// Likewise.
ISR(USART_UDRE_vect) {
  UCSR0B &= (uint8_t)~_BV(UDRIE0);
  sei();
  UDR0 = ring[ring_out % RING_BYTES];
  ++ring_out;
  const bool more = ring_out != ring_in;
  cli();
  if (more) UCSR0B |= _BV(UDRIE0);
}
