#include "drivers/dcc/vehicle_control.h"

#include <array>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

constexpr std::uint8_t consist_normal = 0x12;
constexpr std::uint8_t consist_reversed = 0x13;

}  // namespace

Packet decoder_control(VehicleAddress to, DecoderControl control) {
  const std::array bytes{static_cast<std::uint8_t>(control)};
  return Packet{to.bytes(), bytes};
}

Packet consist_control(VehicleAddress to, int consist, bool reversed) {
  if (consist < 0 || consist > 127) {
    throw std::out_of_range("consist address " + std::to_string(consist) +
                            " lies outside 0 … 127: longer ones are written to CV19 and CV20");
  }
  const std::array bytes{reversed ? consist_reversed : consist_normal, static_cast<std::uint8_t>(consist)};
  return Packet{to.bytes(), bytes};
}

Packet broadcast_leave_consists() {
  static constexpr std::array<std::uint8_t, 3> bytes{0x00, consist_normal, 0x00};
  return Packet{bytes};
}

std::optional<DecoderControl> decode_decoder_control(std::uint8_t instruction) {
  switch (const auto control = static_cast<DecoderControl>(instruction)) {
    case DecoderControl::reset:
    case DecoderControl::hard_reset:
    case DecoderControl::use_short_address:
    case DecoderControl::use_long_address:
    case DecoderControl::request_acknowledge:
      return control;
  }
  return std::nullopt;
}

std::optional<ConsistControl> decode_consist_control(std::uint8_t instruction, std::uint8_t data) {
  if ((instruction != consist_normal && instruction != consist_reversed) || data > 127) return std::nullopt;
  return ConsistControl{data, instruction == consist_reversed};
}

}  // namespace lapwright::dcc
