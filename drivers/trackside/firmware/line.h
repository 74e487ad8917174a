// Writes the board's lines field by field, with sequence number and CRC; or only adds text up to a CRC.
#pragma once

#include <stdint.h>

void line_begin(char kind);  // only when uart_has_room()
void line_end(void);

// Each is one field, the space before it included.
void line_char(char value);
void line_text(const char* text);
void line_text_P(const char* text_in_flash);
void line_number(int32_t value);
void line_hex_2(uint8_t value);
void line_hex_4(uint16_t value);
void line_hex_8(uint32_t value);

/// One setting: its value is written in two hex digits or in decimal.
struct Setting {
  char name[13];
  uint8_t hexadecimal;
  uint16_t value;
};
void line_setting_P(const struct Setting* in_flash);

/// The CRC over `name=value` LF of so many settings.
uint16_t line_crc_of_settings_P(const struct Setting* in_flash, uint8_t count);
