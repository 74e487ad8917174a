#include "drivers/trackside/firmware/command.h"

#include <avr/interrupt.h>
#include <avr/pgmspace.h>
#include <stdint.h>

#include "drivers/trackside/firmware/crc.h"
#include "drivers/trackside/firmware/line.h"
#include "drivers/trackside/firmware/relay.h"
#include "drivers/trackside/firmware/report.h"
#include "drivers/trackside/firmware/uart.h"

static const char words[][7] PROGMEM = {"ok", "what", "args", "fault", "lease", "over", "sensor", "button"};
_Static_assert(sizeof words / sizeof words[0] == RESULT_BUTTON + 1, "a word for each enum Result");

struct Answer {
  uint32_t stamp_us;
  uint8_t of;
  enum Result result;
};
static struct Answer answer;
static bool answer_due;

#define NO_DIGIT 0xFFU

static uint8_t hex_digit(char digit) {
  if (digit >= '0' && digit <= '9') return (uint8_t)(digit - '0');
  if (digit >= 'A' && digit <= 'F') return (uint8_t)(digit - 'A' + 10);
  return NO_DIGIT;
}

// False when one of them is no capital hex digit.
static bool read_hex(const char* text, uint8_t digits, uint16_t* value) {
  *value = 0;
  for (; digits > 0; --digits, ++text) {
    const uint8_t digit = hex_digit(*text);
    if (digit == NO_DIGIT) return false;
    *value = (uint16_t)((*value << 4) | digit);
  }
  return true;
}

// `X NN`, perhaps with fields after it, then `*CCCC`: the length without the last five, or 0 if it is none of ours.
static uint8_t readable_length(const struct HostLine* line) {
  if (line->length < 9U || line->length >= LINE_BYTES) return 0;
  const uint8_t length = (uint8_t)(line->length - 5U);
  const char* const text = line->text;
  uint16_t wanted;
  if (text[length] != '*' || !read_hex(&text[length + 1U], 4, &wanted)) return 0;
  uint16_t crc = CRC_INITIAL;
  for (uint8_t place = 0; place < length; ++place) crc = crc_add(crc, (uint8_t)text[place]);
  if (crc != wanted) return 0;
  if (text[0] < 'A' || text[0] > 'Z' || text[1] != ' ' || (length > 4U && text[4] != ' ')) return 0;
  return length;
}

#ifdef LAPWRIGHT_TEST_BUILD
__attribute__((noreturn)) static void hang(bool interrupts_too) {
  if (interrupts_too) cli();
  for (;;) {
  }
}
#endif

static enum Result switch_relay(char wanted) {
  if (wanted == '1') return relay_close();
  if (wanted != '0') return RESULT_ARGS;
  relay_open();
  return RESULT_OK;
}

static enum Result act(const struct HostLine* line, uint8_t length) {
  const bool bare = length == 4U;
  switch (line->text[0]) {
    case 'L':
      if (!bare) return RESULT_ARGS;
      relay_renew_lease();
      return RESULT_OK;
    case 'P':
      return length == 6U ? switch_relay(line->text[5]) : RESULT_ARGS;
    case 'C':
      return bare ? relay_clear(line->stops) : RESULT_ARGS;
    case 'I':
      if (!bare) return RESULT_ARGS;
      report_hello();
      return RESULT_OK;
#ifdef LAPWRIGHT_TEST_BUILD
    case 'X':
      hang(bare);
#endif
    default:
      return RESULT_WHAT;
  }
}

bool command_take(void) {
  if (answer_due) return false;
  const struct HostLine* const line = uart_line();
  if (!line) return false;
  const uint8_t length = readable_length(line);
  uint16_t sequence;
  if (length > 0 && read_hex(&line->text[2], 2, &sequence)) {
    answer.of = (uint8_t)sequence;
    answer.stamp_us = line->stamp_us;
    answer.result = act(line, length);
    answer_due = true;
  } else {
    uart_count_bad();
  }
  uart_drop_line();
  return true;
}

bool command_write_answer(void) {
  if (!answer_due) return false;
  answer_due = false;
  line_begin('a');
  line_hex_2(answer.of);
  line_text_P(words[answer.result]);
  line_hex_8(answer.stamp_us);
  line_end();
  return true;
}
