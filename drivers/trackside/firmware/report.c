#include "drivers/trackside/firmware/report.h"

#include <avr/pgmspace.h>

#include "drivers/trackside/firmware/board_settings.h"
#include "drivers/trackside/firmware/clock.h"
#include "drivers/trackside/firmware/current.h"
#include "drivers/trackside/firmware/epoch.h"
#include "drivers/trackside/firmware/gates.h"
#include "drivers/trackside/firmware/line.h"
#include "drivers/trackside/firmware/relay.h"
#include "drivers/trackside/firmware/uart.h"
#include "drivers/trackside/firmware/watchdog.h"

#define STATE_EVERY_ms 100U

static const struct Setting settings[] PROGMEM = {
    {"gates", 0, GATES},       {"blocked_high", 1, BLOCKED_HIGH}, {"trip_mA", 0, TRIP_mA}, {"trip_us", 0, TRIP_us},
    {"lease_ms", 0, LEASE_ms}, {"energised_s", 0, ENERGISED_s},   {"zero_mV", 0, ZERO_mV}, {"uV_per_mA", 0, uV_PER_mA},
};
#define SETTINGS ((uint8_t)(sizeof settings / sizeof settings[0]))
#define NOTHING 0xFFU

static uint8_t introduced = NOTHING;  // lines of the introduction that went out; the hello is the first
static uint8_t state_due_ms = STATE_EVERY_ms;

void report_hello(void) { introduced = 0; }

static void write_hello(void) {
  const uint16_t crc = line_crc_of_settings_P(settings, SETTINGS);
  line_begin('h');
  line_text_P(PSTR("1 " FIRMWARE_VERSION " " BOARD_SERIAL));
  line_hex_4(crc);
  line_number(epoch());
  line_char(watchdog_cause());
  line_end();
}

static void write_introduction(void) {
  if (introduced == 0) {
    write_hello();
  } else {
    line_begin('v');
    line_setting_P(&settings[introduced - 1U]);
    line_end();
  }
  introduced = introduced == SETTINGS ? NOTHING : (uint8_t)(introduced + 1U);
}

static void write_state(void) {
  const struct Current current = current_take();
  line_begin('s');
  line_hex_8(clock_now_us());
  line_number(current.mean_mA);
  line_number(current.peak_mA);
  line_char(relay_is_closed() ? '1' : '0');
  line_char(relay_fault());
  line_hex_2(gates_blocked());
  line_hex_4(gates_lost());
  line_number(relay_lease_ms());
  line_number(relay_energised_s());
  line_number(uart_bad());
  line_end();
}

static bool write_edge(void) {
  struct Edge edge;
  if (!gates_take(&edge)) return false;
  line_begin('e');
  line_char((char)('1' + edge.gate));
  line_char(edge.blocked ? '1' : '0');
  line_hex_8(edge.stamp_us);
  line_hex_4(edge.lost);
  line_end();
  return true;
}

bool report_next(bool (*write_answer)(void)) {
  if (!uart_has_room()) return false;
  if (relay_take_change()) {
    write_state();
  } else if ((int8_t)(clock_ms() - state_due_ms) >= 0) {
    state_due_ms = (uint8_t)(state_due_ms + STATE_EVERY_ms);
    write_state();
  } else if (write_answer()) {
    return true;
  } else if (introduced != NOTHING) {
    write_introduction();
  } else {
    return write_edge();
  }
  return true;
}
