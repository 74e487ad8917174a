// The trackside board: gates stamped, current watched, and a relay that stays closed only while the host renews a
// lease.
//
// What must not wait happens in interrupts: an edge's stamp (capture.S), the current trip (current.c), the host's
// byte 18 (uart.c), lease, longest time and stop button (relay.c). The main loop reads the host's lines and writes the
// board's, and it alone feeds the watchdog.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <stdbool.h>

#include "drivers/trackside/firmware/clock.h"
#include "drivers/trackside/firmware/command.h"
#include "drivers/trackside/firmware/current.h"
#include "drivers/trackside/firmware/epoch.h"
#include "drivers/trackside/firmware/gates.h"
#include "drivers/trackside/firmware/relay.h"
#include "drivers/trackside/firmware/report.h"
#include "drivers/trackside/firmware/uart.h"
#include "drivers/trackside/firmware/watchdog.h"

// Until the next interrupt, which is 104 us away at most: so nothing need be locked between the last look and this.
static void sleep(void) {
  SMCR = _BV(SE);  // idle mode
  sleep_cpu();
  SMCR = 0;
}

int main(void) {
  relay_start(watchdog_cause() == 'w' ? 'w' : NO_FAULT);
  epoch_start();
  uart_start();
  gates_start();
  current_start();
  clock_start();
  report_hello();
  sei();
  for (;;) {
    watchdog_feed();
    const bool acted = command_take();
    const bool wrote = report_next(command_write_answer);
    if (!acted && !wrote) sleep();
  }
}
