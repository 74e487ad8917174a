#include "drivers/trackside/firmware/line.h"

#include <avr/pgmspace.h>
#include <stdbool.h>

#include "drivers/trackside/firmware/crc.h"
#include "drivers/trackside/firmware/uart.h"

static uint8_t sequence;
static uint16_t crc;
static bool silent;  // only the CRC is wanted

static void put(char character) {
  crc = crc_add(crc, (uint8_t)character);
  if (!silent) uart_write((uint8_t)character);
}

static void put_hex(uint32_t value, uint8_t digits) {
  while (digits-- > 0) {
    const uint8_t digit = (uint8_t)(value >> (4U * digits)) & 0xFU;
    put((char)(digit < 10U ? '0' + digit : 'A' + digit - 10));
  }
}

// By subtraction: a division of 32 bits takes the chip 40 us.
static void put_number(int32_t value) {
  static const uint32_t powers[] PROGMEM = {100000000, 10000000, 1000000, 100000, 10000, 1000, 100, 10, 1};
  uint32_t rest = (uint32_t)value;
  if (value < 0) {
    put('-');
    rest = 0U - rest;
  }
  bool begun = false;
  for (uint8_t place = 0; place < sizeof powers / sizeof powers[0]; ++place) {
    const uint32_t power = pgm_read_dword(&powers[place]);
    char digit = '0';
    for (; rest >= power; rest -= power) ++digit;
    begun = begun || digit != '0' || power == 1;
    if (begun) put(digit);
  }
}

static void put_text_P(const char* text) {
  for (char next; (next = (char)pgm_read_byte(text)) != 0; ++text) put(next);
}

void line_begin(char kind) {
  crc = CRC_INITIAL;
  silent = false;
  put(kind);
  line_hex_2(sequence++);
}

void line_end(void) {
  const uint16_t check = crc;
  put('*');
  put_hex(check, 4);
  put('\n');
}

void line_char(char value) {
  put(' ');
  put(value);
}

void line_text(const char* text) {
  put(' ');
  for (; *text; ++text) put(*text);
}

void line_text_P(const char* text_in_flash) {
  put(' ');
  put_text_P(text_in_flash);
}

void line_number(int32_t value) {
  put(' ');
  put_number(value);
}

void line_hex_2(uint8_t value) {
  put(' ');
  put_hex(value, 2);
}

void line_hex_4(uint16_t value) {
  put(' ');
  put_hex(value, 4);
}

void line_hex_8(uint32_t value) {
  put(' ');
  put_hex(value, 8);
}

static void put_setting_P(const struct Setting* in_flash, char between) {
  put_text_P(in_flash->name);
  put(between);
  const uint16_t value = pgm_read_word(&in_flash->value);
  if (pgm_read_byte(&in_flash->hexadecimal)) {
    put_hex(value, 2);
  } else {
    put_number(value);
  }
}

void line_setting_P(const struct Setting* in_flash) {
  put(' ');
  put_setting_P(in_flash, ' ');
}

uint16_t line_crc_of_settings_P(const struct Setting* in_flash, uint8_t count) {
  crc = CRC_INITIAL;
  silent = true;
  for (; count > 0; --count, ++in_flash) {
    put_setting_P(in_flash, '=');
    put('\n');
  }
  return crc;
}
