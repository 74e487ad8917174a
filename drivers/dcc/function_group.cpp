#include "drivers/dcc/function_group.h"

#include <array>
#include <cstddef>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

struct Row {
  int first;
  int count;
  std::uint8_t instruction;  // with all functions off
};

constexpr std::array<Row, 10> rows{{{0, 5, 0x80},
                                    {5, 4, 0xB0},
                                    {9, 4, 0xA0},
                                    {13, 8, 0xDE},
                                    {21, 8, 0xDF},
                                    {29, 8, 0xD8},
                                    {37, 8, 0xD9},
                                    {45, 8, 0xDA},
                                    {53, 8, 0xDB},
                                    {61, 8, 0xDC}}};
constexpr std::size_t first_two_byte_row = 3;

const Row& row(FunctionGroup group) { return rows.at(static_cast<std::size_t>(group)); }

}  // namespace

int first_function(FunctionGroup group) { return row(group).first; }

int functions_in(FunctionGroup group) { return row(group).count; }

Packet functions(VehicleAddress to, FunctionGroup group, std::uint8_t on) {
  const Row& found = row(group);
  if (on >> found.count != 0) {
    throw std::out_of_range("function bits " + std::to_string(on) + " exceed the " + std::to_string(found.count) +
                            " functions from F" + std::to_string(found.first) + " on: clear the upper bits");
  }
  if (found.count == 8) {
    const std::array bytes{found.instruction, on};
    return Packet{to.bytes(), bytes};
  }
  // FL stands above F1-F4 on the track: 100DDDDD has FL in bit 4 and F1 in bit 0.
  const int bits = group == FunctionGroup::f0_f4 ? ((on & 1) << 4) | (on >> 1) : on;
  const std::array bytes{static_cast<std::uint8_t>(found.instruction | bits)};
  return Packet{to.bytes(), bytes};
}

std::optional<FunctionOrder> decode_functions(std::uint8_t instruction) {
  if ((instruction & 0xE0) == 0x80) {
    const int on = ((instruction & 0x0F) << 1) | ((instruction >> 4) & 1);
    return FunctionOrder{FunctionGroup::f0_f4, static_cast<std::uint8_t>(on)};
  }
  const auto on = static_cast<std::uint8_t>(instruction & 0x0F);
  if ((instruction & 0xF0) == 0xB0) return FunctionOrder{FunctionGroup::f5_f8, on};
  if ((instruction & 0xF0) == 0xA0) return FunctionOrder{FunctionGroup::f9_f12, on};
  return std::nullopt;
}

std::optional<FunctionOrder> decode_functions(std::uint8_t instruction, std::uint8_t data) {
  for (std::size_t at = first_two_byte_row; at < rows.size(); ++at) {
    if (rows[at].instruction == instruction) return FunctionOrder{static_cast<FunctionGroup>(at), data};
  }
  return std::nullopt;
}

}  // namespace lapwright::dcc
