// Which pin of the ATmega328P does what; WIRING.md shows the same as a table.
#pragma once

#include <avr/io.h>

// Gates 1-5 are PC1-PC5, gates 6-8 are PB0-PB2: pin-change pins, none of them an INT pin.
#define GATE_PINS_C 0x3EU
#define GATE_PINS_B 0x07U
/// Levels of all eight gate pins, bit 0 = gate 1, from what PINC and PINB read.
#define GATE_LEVELS(pins_c, pins_b) ((uint8_t)((((pins_c) >> 1) & 0x1FU) | (uint8_t)((pins_b) << 5)))
#define GATES_TO_PINS_C(gates) ((uint8_t)(((unsigned)(gates) << 1) & GATE_PINS_C))
#define GATES_TO_PINS_B(gates) ((uint8_t)(((unsigned)(gates) >> 5) & GATE_PINS_B))

// The current sensor is on ADC0, which is PC0.
#define SENSOR_CHANNEL 0U

// All of port D: its bits are set and cleared by single instructions, so that interrupts can't disturb each other.
#define BUTTON_BIT PD4  // normally closed contact to ground, with pull-up: high is pressed, or a broken wire
#define RELAY_BIT PD6   // high energises the relay, which closes the track feed
#define LED_BIT PD7     // lit: relay closed; flashing: a fault is latched
