#include "drivers/trackside/firmware/gates.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "drivers/trackside/firmware/board_settings.h"
#include "drivers/trackside/firmware/clock.h"
#include "drivers/trackside/firmware/pins.h"

// Each gate may have this many edges waiting. Together they fill the queue, so that no gate can fill it for the others.
#define EDGES_PER_GATE 12U
#define QUEUE_LENGTH (8U * EDGES_PER_GATE + 1U)
// A gate that wants to have more waiting is not listened to until the next of these windows ends.
#define WINDOW_ms 100U
// So that what this interrupted, the receiver perhaps, need not wait for long.
#define SORTED_AT_ONCE 8U

// An edge waits up to 3.5 us until its interrupt reads the timer, and may be seen by one that read it 1.2 us before.
#define CAPTURE_us 1U

#define ALL_GATES ((uint8_t)((1U << GATES) - 1U))

// What capture.S stores; the order is known there, too.
struct Snapshot {
  struct TimerReading timer;
  uint8_t pins_c;
  uint8_t pins_b;
  uint8_t unused[2];
};
volatile struct Snapshot snapshots[32];
_Static_assert(sizeof snapshots == 256, "the offsets in capture.S wrap at 256");

static struct Edge queue[QUEUE_LENGTH];
static volatile uint8_t queue_in, queue_out;
static volatile uint8_t waiting[8];

// All below belongs to gates_sort(), which is never entered twice; others only read it.
static volatile uint8_t blocked;  // as last seen
static volatile uint16_t lost;
static uint8_t muted;  // gates that are not listened to
static uint8_t muted_since_ms;

static uint8_t blocked_of(uint8_t pins_c, uint8_t pins_b) {
  return (uint8_t) ~(GATE_LEVELS(pins_c, pins_b) ^ (uint8_t)BLOCKED_HIGH) & ALL_GATES;
}

static void listen_to(uint8_t gates) {
  muted = (uint8_t)~gates & ALL_GATES;
  PCMSK1 = GATES_TO_PINS_C(gates);
  PCMSK0 = GATES_TO_PINS_B(gates);
}

void gates_start(void) {
  PORTC |= GATE_PINS_C;
  PORTB |= GATE_PINS_B;
  GPIOR1 = 0;
  GPIOR2 = 0;
  for (uint8_t settle = 0; settle < 100; ++settle) __asm__ volatile("nop");  // the pull-ups charge the wires
  blocked = blocked_of(PINC, PINB);
  listen_to(ALL_GATES);
  PCIFR = _BV(PCIF0) | _BV(PCIF1);
  PCICR = _BV(PCIE0) | _BV(PCIE1);
}

static void count_lost(uint8_t gates) {
  uint8_t count = 0;
  for (; gates; gates = (uint8_t)(gates & (gates - 1U))) ++count;
  lost = (uint16_t)(lost + count);
}

static void enqueue(uint8_t gate, bool is_blocked, uint32_t stamp_us) {
  struct Edge* const edge = &queue[queue_in];
  edge->stamp_us = stamp_us;
  edge->lost = lost;
  edge->gate = gate;
  edge->blocked = is_blocked;
  queue_in = queue_in + 1U < QUEUE_LENGTH ? (uint8_t)(queue_in + 1U) : 0U;
  ++waiting[gate];
}

static void sort_snapshot(volatile const struct Snapshot* snapshot) {
  const uint8_t seen = blocked_of(snapshot->pins_c, snapshot->pins_b);
  uint8_t changed = (uint8_t)((seen ^ blocked) & (uint8_t)~muted);
  if (!changed) return;
  blocked ^= changed;
  const uint32_t stamp_us = clock_stamp_us(snapshot->timer) - CAPTURE_us;
  for (uint8_t gate = 0; changed; ++gate, changed >>= 1) {
    if (!(changed & 1U)) continue;
    const uint8_t bit = (uint8_t)(1U << gate);
    if (waiting[gate] < EDGES_PER_GATE) {
      enqueue(gate, seen & bit, stamp_us);
    } else {
      count_lost(bit);
      if (!muted) muted_since_ms = clock_ms();
      listen_to((uint8_t) ~(muted | bit));
    }
  }
}

// What changes while nobody listens is lost, and counted as far as it is seen here.
static void look_at_muted(void) {
  const uint8_t changed = (uint8_t)((blocked_of(PINC, PINB) ^ blocked) & muted);
  count_lost(changed);
  blocked ^= changed;
}

// Gates that were not listened to begin anew from what their pins are at this moment. A snapshot that is still in the
// ring would tell of the time before: then it is for the next call.
static void listen_anew(uint8_t gates) {
  uint8_t seen = blocked;
  ATOMIC_BLOCK(ATOMIC_FORCEON) {
    if (GPIOR1 == GPIOR2) {
      listen_to(gates);
      PCICR = _BV(PCIE0) | _BV(PCIE1);
      seen = blocked_of(PINC, PINB);
    }
  }
  const uint8_t changed = seen ^ blocked;
  count_lost(changed);
  blocked = seen;
}

static uint8_t gates_with_room(void) {
  uint8_t gates = 0;
  for (uint8_t gate = 0; gate < GATES; ++gate) {
    if (waiting[gate] <= EDGES_PER_GATE / 2U) gates = (uint8_t)(gates | (1U << gate));
  }
  return gates;
}

void gates_sort(void) {
  for (uint8_t sorted = 0; GPIOR1 != GPIOR2; ++sorted) {
    if (sorted == SORTED_AT_ONCE) return;
    sort_snapshot(&snapshots[GPIOR2 / sizeof(struct Snapshot)]);
    GPIOR2 = (uint8_t)(GPIOR2 + sizeof(struct Snapshot));
  }
  if (!PCICR) {  // the ring was full
    count_lost(1);
    listen_anew((uint8_t)~muted);
  }
  if (!muted) return;
  look_at_muted();
  if ((uint8_t)(clock_ms() - muted_since_ms) >= WINDOW_ms) listen_anew((uint8_t)(~muted | gates_with_room()));
}

bool gates_take(struct Edge* edge) {
  if (queue_out == queue_in) return false;
  *edge = queue[queue_out];
  queue_out = queue_out + 1U < QUEUE_LENGTH ? (uint8_t)(queue_out + 1U) : 0U;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { --waiting[edge->gate]; }
  return true;
}

uint8_t gates_blocked(void) { return blocked; }

uint16_t gates_lost(void) {
  uint16_t count;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { count = lost; }
  return count;
}
