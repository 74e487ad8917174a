// CRC-16/IBM-3740, one byte at a time: polynomial 1021, initial value FFFF, not reflected, no final exclusive-or.
#pragma once

#include <stdint.h>
#include <util/crc16.h>

#define CRC_INITIAL 0xFFFFU

static inline uint16_t crc_add(uint16_t crc, uint8_t byte) { return _crc_xmodem_update(crc, byte); }
