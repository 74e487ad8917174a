// The firmware's own ELF in the AVR simulator, in virtual time, with the wires to the chip and a host's serial line.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "tests/firmware/board_line.h"

struct avr_t;

namespace lapwright::firmware {

constexpr std::uint64_t cycles_per_us = 16;
constexpr std::uint64_t byte_cycles = 1496;  ///< 11 bits of 17 * 8: the simulator always counts a parity bit

struct RelayChange {
  std::uint64_t cycle;
  bool closed;
};

class VirtualBoard {
 public:
  enum class Boot : std::uint8_t { power = 1, reset_pin = 2, brown_out = 4 };

  explicit VirtualBoard(const std::string& elf);
  ~VirtualBoard();
  VirtualBoard(const VirtualBoard&) = delete;
  VirtualBoard& operator=(const VirtualBoard&) = delete;
  std::uint64_t cycle() const;
  void run_us(std::uint64_t span_us);
  void run_to(std::uint64_t cycle);
  /// False when the condition has not come true in this time.
  bool run_until(const std::function<bool()>& condition, std::uint64_t limit_us);
  /// An event of the world outside; of two at one cycle the first one asked for comes first. Resets don't undo it.
  void at(std::uint64_t cycle, std::function<void()> event);
  void reset(Boot cause);
  /// Bytes on the board's receiver, one after the other; the one at flawed_at without its stop bit.
  void send(const std::string& bytes, std::size_t flawed_at = std::string::npos);
  /// The host's next line: sequence number and CRC are added. Returns the sequence number.
  int send_line(char kind, const std::string& fields = "");
  bool is_sending() const { return !to_board_.empty(); }
  /// Sends a line and runs until its answer; its result, or "nothing".
  std::string ask(char kind, const std::string& fields = "");
  /// Every byte of the board, as it is sent.
  std::function<void(char)> on_byte;
  std::function<void(const BoardLine&)> on_line;

  /// All lines that the board sent; those that can't be read, and gaps in the sequence, are counted apart.
  std::vector<BoardLine> lines;
  int unreadable = 0;
  int gaps = 0;
  /// The newest state, after running until the next state line.
  State next_state();
  const BoardLine* last(char kind) const;
  std::size_t count(char kind) const;

  void set_gate(int gate, bool high);  ///< 1 … 8, the pin's level
  bool gate_is_high(int gate) const;
  void set_current_mA(int current_mA) { set_sensor_mV(2500 + current_mA * 185 / 1000); }
  void set_sensor_mV(int sensor_mV);
  void set_button_open(bool open);

  bool relay_closed() const;
  std::vector<RelayChange> relay_changes;
  std::uint64_t counter_start_cycle = 0;  ///< when the board's microsecond counter was started
  int boots = 1;

  std::vector<std::uint8_t> eeprom() const;
  void set_eeprom(const std::vector<std::uint8_t>& bytes);
  /// Writes a register of the chip, as a disturbance might.
  void disturb(std::uint16_t address, std::uint8_t value);
  /// Bytes of RAM that neither variables nor the stack have touched.
  std::size_t untouched_ram() const;

 private:
  struct Hooks;
  void set_pin(char port, int pin, bool high);
  void arm();
  void fire_due_events();
  void feed_byte();
  void take_byte(char byte);
  void note_relay();

  avr_t* avr_;
  std::map<std::uint64_t, std::deque<std::function<void()>>> events_;
  std::array<std::uint8_t, 3> outside_{};  // levels of ports B, C, D
  std::deque<std::uint16_t> to_board_;
  std::uint8_t host_sequence_ = 0;
  std::string line_;
  std::uint64_t line_begun_ = 0;
  int expected_sequence_ = 0;
  bool closed_before_ = false;
};
}  // namespace lapwright::firmware
