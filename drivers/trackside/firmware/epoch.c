#include "drivers/trackside/firmware/epoch.h"

#include <avr/eeprom.h>
#include <stdbool.h>

#include "drivers/trackside/firmware/crc.h"

// The count goes round these slots, each with its own CRC: a write that power failure cuts short spoils one slot that
// holds nothing newer than the others, and no cell wears out: 16 slots stand 1.6 million boots.
#define SLOTS 16U
struct Slot {
  uint16_t epoch;
  uint16_t crc;
};
static struct Slot slots[SLOTS] EEMEM;
static uint16_t current;

static uint16_t crc_of(uint16_t epoch) { return crc_add(crc_add(CRC_INITIAL, (uint8_t)(epoch >> 8)), (uint8_t)epoch); }

static bool holds(uint8_t slot, uint16_t epoch) {
  return eeprom_read_word(&slots[slot].epoch) == epoch && eeprom_read_word(&slots[slot].crc) == crc_of(epoch);
}

void epoch_start(void) {
  uint8_t newest = SLOTS - 1U;
  bool found = false;
  for (uint8_t slot = 0; slot < SLOTS; ++slot) {
    const uint16_t epoch = eeprom_read_word(&slots[slot].epoch);
    if (!holds(slot, epoch) || (found && (int16_t)(epoch - current) <= 0)) continue;
    current = epoch;
    newest = slot;
    found = true;
  }
  ++current;
  // A slot that does not take the number is worn; the next one then takes it.
  for (uint8_t tries = 1; tries < SLOTS; ++tries) {
    const uint8_t slot = (uint8_t)(newest + tries) % SLOTS;
    eeprom_update_word(&slots[slot].epoch, current);
    eeprom_update_word(&slots[slot].crc, crc_of(current));
    if (holds(slot, current)) return;
  }
}

uint16_t epoch(void) { return current; }
