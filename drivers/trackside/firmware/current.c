#include "drivers/trackside/firmware/current.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "drivers/trackside/firmware/board_settings.h"
#include "drivers/trackside/firmware/gates.h"
#include "drivers/trackside/firmware/pins.h"
#include "drivers/trackside/firmware/relay.h"

#define SAMPLE_us 104UL  // 13 cycles of 16 MHz / 128
#define STALLED_ms 3U

// One step of the converter is 5 V / 1024 = 78125 / 16 uV. A reading within 20 mV of an end is no reading.
#define LOWEST_RAW 4
#define HIGHEST_RAW 1019
#define RAW_OF_uV(uV) ((int32_t)(uV)*16 / 78125)
#define OVER_ABOVE_RAW RAW_OF_uV(ZERO_mV * 1000L + (int32_t)TRIP_mA * uV_PER_mA)
#define OVER_BELOW_RAW (RAW_OF_uV(ZERO_mV * 1000L - (int32_t)TRIP_mA * uV_PER_mA) + 1)
_Static_assert((int64_t)TRIP_mA* uV_PER_mA < 5000000, "this sensor can't measure TRIP_mA");
_Static_assert(OVER_ABOVE_RAW < HIGHEST_RAW, "TRIP_mA lies outside of the sensor's range");

// So many samples in a row span TRIP_us at least, and a pulse shorter than that never fills them.
#define TRIP_SAMPLES ((uint8_t)((TRIP_us + SAMPLE_us - 1U) / SAMPLE_us + 1U))

struct Window {
  uint32_t sum;
  uint16_t count;
  uint16_t highest;
  uint16_t lowest;
};

// The interrupt fills one while the other is read; which one changes by one byte, so nothing need be locked.
static struct Window windows[2];
static volatile uint8_t filling;

static volatile uint16_t latest_raw;
static volatile bool over, implausible;
static volatile uint8_t since_sample_ms;
static uint8_t bad_samples;

static void clear(struct Window* window) {
  window->sum = 0;
  window->count = 0;
  window->highest = 0;
  window->lowest = UINT16_MAX;
}

void current_start(void) {
  clear(&windows[0]);
  clear(&windows[1]);
  implausible = true;  // until the first sample
  ADMUX = _BV(REFS0) | SENSOR_CHANNEL;
  ADCSRB = 0;  // free running
  DIDR0 = _BV(SENSOR_CHANNEL);
  ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADATE) | _BV(ADIE) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
}

// A reading at an end of the range counts towards the trip, too: whatever it is, the track is not to stay powered.
static void judge(uint16_t raw) {
  implausible = raw < LOWEST_RAW || raw > HIGHEST_RAW;
  over = !implausible && ((int16_t)raw > OVER_ABOVE_RAW || (int16_t)raw < OVER_BELOW_RAW);
  if (!over && !implausible) {
    bad_samples = 0;
  } else if (bad_samples + 1U < TRIP_SAMPLES) {
    ++bad_samples;
  } else {
    relay_trip(implausible ? 's' : 'c');
  }
}

// Other interrupts may come in between. Only if those take as long as a sample can this one meet itself.
ISR(ADC_vect, ISR_NOBLOCK) {
  static volatile bool sorting;
  const uint16_t raw = ADC;
  judge(raw);
  latest_raw = raw;
  since_sample_ms = 0;
  struct Window* const window = &windows[filling];
  if (window->count < UINT16_MAX) {
    window->sum += raw;
    ++window->count;
  }
  if (raw > window->highest) window->highest = raw;
  if (raw < window->lowest) window->lowest = raw;
  if (sorting) return;
  sorting = true;
  gates_sort();
  sorting = false;
}

void current_tick(void) {
  if (since_sample_ms < STALLED_ms) {
    ++since_sample_ms;
    return;
  }
  implausible = true;
  relay_trip('s');
}

bool current_is_over(void) { return over; }

bool current_is_implausible(void) { return implausible; }

// From sixteenths of a step.
static int32_t to_mA(uint32_t raw_16) {
  const int32_t uV = (int32_t)(raw_16 * 78125UL / 256UL) - ZERO_mV * 1000L;
  return (uV + (uV < 0 ? -uV_PER_mA / 2 : uV_PER_mA / 2)) / uV_PER_mA;
}

struct Current current_take(void) {
  struct Window* const window = &windows[filling];
  filling ^= 1U;
  if (window->count == 0) {
    window->sum = window->highest = window->lowest = latest_raw;
    window->count = 1;
  }
  const int32_t highest_mA = to_mA(window->highest * 16UL);
  const int32_t lowest_mA = to_mA(window->lowest * 16UL);
  struct Current current;
  // 16 times the sum fits for 262144 samples; the window has 65535 at most.
  current.mean_mA = to_mA(window->sum * 16UL / window->count);
  current.peak_mA = highest_mA >= -lowest_mA ? highest_mA : lowest_mA;
  clear(window);
  return current;
}
