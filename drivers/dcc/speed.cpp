#include "drivers/dcc/speed.h"

#include <array>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

constexpr std::uint8_t baseline = 0x40;
constexpr std::uint8_t forward_bit = 0x20;  // of the baseline instruction

void check_step(int step, int top) {
  if (step < 0 || step > top) {
    throw std::out_of_range("speed step " + std::to_string(step) + " lies outside 0 … " + std::to_string(top) +
                            ": choose a step of the mode in use");
  }
}

Packet baseline_packet(VehicleAddress to, Direction direction, int bits) {
  const int forward = direction == Direction::forward ? forward_bit : 0;
  const std::array instruction{static_cast<std::uint8_t>(baseline | forward | bits)};
  return Packet{to.bytes(), instruction};
}

Packet packet_128(VehicleAddress to, Direction direction, int value) {
  const int forward = direction == Direction::forward ? 0x80 : 0;
  const std::array instruction{speed126_instruction, static_cast<std::uint8_t>(forward | value)};
  return Packet{to.bytes(), instruction};
}

SpeedOrder order(int value, int stops, int emergency_stops, Direction direction) {
  if (value < stops) return {SpeedOrder::Kind::stop, 0, direction};
  if (value < stops + emergency_stops) return {SpeedOrder::Kind::emergency_stop, 0, direction};
  return {SpeedOrder::Kind::run, value - stops - emergency_stops + 1, direction};
}

Direction baseline_direction(std::uint8_t instruction) {
  return (instruction & forward_bit) != 0 ? Direction::forward : Direction::reverse;
}

}  // namespace

SpeedOrder BaselineSpeed::in_28_steps() const {
  const int value = 2 * (instruction & 0x0F) + (bit_4() ? 1 : 0);  // bit 4 is the least significant speed bit
  return order(value, 2, 2, baseline_direction(instruction));
}

SpeedOrder BaselineSpeed::in_14_steps() const {
  return order(instruction & 0x0F, 1, 1, baseline_direction(instruction));
}

SpeedOrder decode_speed126(std::uint8_t data) {
  return order(data & 0x7F, 1, 1, (data & 0x80) != 0 ? Direction::forward : Direction::reverse);
}

Packet speed14(VehicleAddress to, Direction direction, int step, bool headlight) {
  check_step(step, 14);
  return baseline_packet(to, direction, (headlight ? 0x10 : 0) | (step == 0 ? 0 : step + 1));
}

Packet speed28(VehicleAddress to, Direction direction, int step) {
  check_step(step, 28);
  const int value = step == 0 ? 0 : step + 3;
  return baseline_packet(to, direction, (value % 2 == 1 ? 0x10 : 0) | value / 2);
}

Packet speed126(VehicleAddress to, Direction direction, int step) {
  check_step(step, 126);
  return packet_128(to, direction, step == 0 ? 0 : step + 1);
}

Packet speed(VehicleAddress to, ThrottleCommand command) {
  return command.mode == StepMode::steps28 ? speed28(to, command.direction, command.step)
                                           : speed126(to, command.direction, command.step);
}

Packet emergency_stop(VehicleAddress to, Direction direction) { return baseline_packet(to, direction, 1); }

Packet emergency_stop126(VehicleAddress to, Direction direction) { return packet_128(to, direction, 1); }

Packet idle() {
  static constexpr std::array<std::uint8_t, 2> bytes{0xFF, 0x00};
  return Packet{bytes};
}

Packet reset() {
  static constexpr std::array<std::uint8_t, 2> bytes{0x00, 0x00};
  return Packet{bytes};
}

Packet broadcast_stop(Direction direction, bool direction_may_be_ignored, bool motor_off) {
  const int forward = direction == Direction::forward ? forward_bit : 0;
  const int bits = forward | (direction_may_be_ignored ? 0x10 : 0) | (motor_off ? 1 : 0);
  const std::array bytes{std::uint8_t{0}, static_cast<std::uint8_t>(baseline | bits)};
  return Packet{bytes};
}

}  // namespace lapwright::dcc
