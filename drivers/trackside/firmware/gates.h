// The gates: edges with the stamp of their interrupt, in order, and a limit on what a chattering gate can take.
#pragma once

#include <stdbool.h>
#include <stdint.h>

struct Edge {
  uint32_t stamp_us;
  uint16_t lost;  // edges lost since the boot, as of this edge
  uint8_t gate;   // 0 … 7
  bool blocked;
};

void gates_start(void);

/// Turns snapshots of the pins into edges; from the current sensor's interrupt, every 104 us, with interrupts on.
void gates_sort(void);

/// The oldest edge not taken yet; false when there is none.
bool gates_take(struct Edge* edge);

/// Bit 0 = gate 1, set: blocked.
uint8_t gates_blocked(void);

/// Edges that could not be kept since the boot, wraps.
uint16_t gates_lost(void);
