#include "drivers/dcc/cv_access.h"

#include <array>

#include "drivers/dcc/cv_bytes.h"

namespace lapwright::dcc {
namespace {

// First bytes of the long form for CV 1 … 256 (S-9.2.1 §2.3.7.3).
constexpr std::uint8_t verify_base = 0xE4;
constexpr std::uint8_t bit_base = 0xE8;
constexpr std::uint8_t write_base = 0xEC;
constexpr std::uint8_t short_base = 0xF0;
constexpr std::size_t long_form_size = 3;

Packet long_form(VehicleAddress to, std::uint8_t base, int cv, std::uint8_t data) {
  const CvField field = cv_field(cv);
  const std::array bytes{static_cast<std::uint8_t>(base | field.high), field.low, data};
  return Packet{to.bytes(), bytes};
}

Packet short_single(VehicleAddress to, ShortForm form, std::uint8_t data) {
  const std::array bytes{static_cast<std::uint8_t>(short_base | static_cast<int>(form)), data};
  return Packet{to.bytes(), bytes};
}

Packet short_pair(VehicleAddress to, ShortForm form, std::uint8_t first, std::uint8_t second) {
  const std::array bytes{static_cast<std::uint8_t>(short_base | static_cast<int>(form)), first, second};
  return Packet{to.bytes(), bytes};
}

// XPOM uses the same first bytes; only the length tells them apart.
bool is_long_form(std::span<const std::uint8_t> instruction, std::uint8_t base) {
  return instruction.size() == long_form_size && (instruction[0] & 0xFC) == base;
}

}  // namespace

Packet verify_cv(VehicleAddress to, int cv, std::uint8_t value) { return long_form(to, verify_base, cv, value); }

Packet write_cv(VehicleAddress to, int cv, std::uint8_t value) { return long_form(to, write_base, cv, value); }

Packet write_cv_bit(VehicleAddress to, int cv, int bit, bool value) {
  return long_form(to, bit_base, cv, bit_order(bit, value, true));
}

Packet verify_cv_bit(VehicleAddress to, int cv, int bit, bool value) {
  return long_form(to, bit_base, cv, bit_order(bit, value, false));
}

Packet adjust_acceleration(VehicleAddress to, std::uint8_t cv23) {
  return short_single(to, ShortForm::acceleration_adjustment, cv23);
}

Packet adjust_deceleration(VehicleAddress to, std::uint8_t cv24) {
  return short_single(to, ShortForm::deceleration_adjustment, cv24);
}

Packet set_long_address(VehicleAddress to, int new_address) {
  const LongAddressCvs both = to_cv17_18(new_address);
  return short_pair(to, ShortForm::long_address, both.cv17, both.cv18);
}

Packet set_index(VehicleAddress to, std::uint8_t cv31, std::uint8_t cv32) {
  return short_pair(to, ShortForm::index, cv31, cv32);
}

Packet set_consist_cvs(VehicleAddress to, std::uint8_t cv19, std::uint8_t cv20) {
  return short_pair(to, ShortForm::consist, cv19, cv20);
}

std::optional<CvVerify> decode_verify(std::span<const std::uint8_t> instruction) {
  if (!is_long_form(instruction, verify_base)) return std::nullopt;
  return CvVerify{cv_number(instruction[0], instruction[1]), instruction[2]};
}

std::optional<CvWrite> decode_write(std::span<const std::uint8_t> instruction) {
  if (!is_long_form(instruction, write_base)) return std::nullopt;
  return CvWrite{cv_number(instruction[0], instruction[1]), instruction[2]};
}

std::optional<CvBit> decode_bit(std::span<const std::uint8_t> instruction) {
  if (!is_long_form(instruction, bit_base) || (instruction[2] & 0xE0) != 0xE0) return std::nullopt;
  const int order = instruction[2];
  return CvBit{cv_number(instruction[0], instruction[1]), order & 7, (order & 0x08) != 0, (order & 0x10) != 0};
}

std::optional<CvShortForm> decode_short_form(std::span<const std::uint8_t> instruction) {
  if (instruction.size() < 2 || (instruction[0] & 0xF0) != short_base) return std::nullopt;
  const int form = instruction[0] & 0x0F;
  const bool single = form == 2 || form == 3;
  const bool pair = form >= 4 && form <= 6;
  if (single && instruction.size() == 2) return CvShortForm{static_cast<ShortForm>(form), instruction[1], 0};
  if (pair && instruction.size() == 3) {
    return CvShortForm{static_cast<ShortForm>(form), instruction[1], instruction[2]};
  }
  return std::nullopt;
}

}  // namespace lapwright::dcc
