// The count of boots, kept in EEPROM.
#pragma once

#include <stdint.h>

/// Once at each boot: counts it. Takes about 15 ms.
void epoch_start(void);

/// This boot's number, 0 … 65535 and round again.
uint16_t epoch(void);
