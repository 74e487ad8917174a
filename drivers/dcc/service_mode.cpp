#include "drivers/dcc/service_mode.h"

#include <array>

#include "drivers/dcc/cv_bytes.h"

namespace lapwright::dcc::service {
namespace {

constexpr std::uint8_t verify_base = 0x74;
constexpr std::uint8_t bit_base = 0x78;
constexpr std::uint8_t write_base = 0x7C;

Packet direct(std::uint8_t base, int cv, std::uint8_t data) {
  const CvField field = cv_field(cv);
  const std::array bytes{static_cast<std::uint8_t>(base | field.high), field.low, data};
  return Packet{bytes};
}

}  // namespace

Packet write_cv(int cv, std::uint8_t value) { return direct(write_base, cv, value); }

Packet verify_cv(int cv, std::uint8_t value) { return direct(verify_base, cv, value); }

Packet write_cv_bit(int cv, int bit, bool value) { return direct(bit_base, cv, bit_order(bit, value, true)); }

Packet verify_cv_bit(int cv, int bit, bool value) { return direct(bit_base, cv, bit_order(bit, value, false)); }

Packet factory_reset() {
  static constexpr std::array<std::uint8_t, 2> bytes{0x7F, 0x08};
  return Packet{bytes};
}

Packet page_preset() {
  static constexpr std::array<std::uint8_t, 2> bytes{0x7D, 0x01};
  return Packet{bytes};
}

std::optional<std::variant<CvVerify, CvWrite, CvBit>> parse(std::span<const std::uint8_t> packet) {
  if (packet.size() != 4 || !undamaged(packet)) return std::nullopt;
  const int cv = cv_number(packet[0], packet[1]);
  const int data = packet[2];
  switch (packet[0] & 0xFC) {
    case verify_base:
      return CvVerify{cv, packet[2]};
    case write_base:
      return CvWrite{cv, packet[2]};
    case bit_base:
      if ((data & 0xE0) != 0xE0) return std::nullopt;
      return CvBit{cv, data & 7, (data & 0x08) != 0, (data & 0x10) != 0};
    default:
      return std::nullopt;
  }
}

}  // namespace lapwright::dcc::service
