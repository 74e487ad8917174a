// Operations-mode CV access: long form, short form and XPOM packets (NMRA S-9.2.1 §2.3.7).
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"

namespace lapwright::dcc {

struct CvVerify {
  int cv = 1;
  std::uint8_t value = 0;  ///< of no importance to the answer when used as a read request
  bool operator==(const CvVerify&) const = default;
};

struct CvWrite {
  int cv = 1;
  std::uint8_t value = 0;
  bool operator==(const CvWrite&) const = default;
};

struct CvBit {
  int cv = 1;
  int bit = 0;  ///< 0 … 7
  bool value = false;
  bool write = true;  ///< false: verify
  bool operator==(const CvBit&) const = default;
};

/// What a short-form packet writes (S-9.2.1 Table 2.1); the values are its GGGG bits.
enum class ShortForm : std::uint8_t {
  acceleration_adjustment = 2,  ///< CV23, one packet is enough
  deceleration_adjustment = 3,  ///< CV24, one packet is enough
  long_address = 4,             ///< CV17 and CV18, and CV29 bit 5 is set
  index = 5,                    ///< CV31 and CV32
  consist = 6,                  ///< CV19 and CV20
};

struct CvShortForm {
  ShortForm form = ShortForm::acceleration_adjustment;
  std::uint8_t first = 0;   ///< for the lower-numbered CV
  std::uint8_t second = 0;  ///< for the higher-numbered CV; unused by the first two forms
  bool operator==(const CvShortForm&) const = default;
};

/// Operations-mode packets for CV 1 … 1024. A decoder stores a value only after two identical packets without another
/// packet for it in between (S-9.2.1 l. 520-526). All throw std::out_of_range for a CV, bit or address that is none.
[[nodiscard]] Packet verify_cv(VehicleAddress to, int cv, std::uint8_t value);
[[nodiscard]] Packet write_cv(VehicleAddress to, int cv, std::uint8_t value);
[[nodiscard]] Packet write_cv_bit(VehicleAddress to, int cv, int bit, bool value);
[[nodiscard]] Packet verify_cv_bit(VehicleAddress to, int cv, int bit, bool value);

[[nodiscard]] Packet adjust_acceleration(VehicleAddress to, std::uint8_t cv23);
[[nodiscard]] Packet adjust_deceleration(VehicleAddress to, std::uint8_t cv24);
[[nodiscard]] Packet set_long_address(VehicleAddress to, int new_address);
[[nodiscard]] Packet set_index(VehicleAddress to, std::uint8_t cv31, std::uint8_t cv32);
[[nodiscard]] Packet set_consist_cvs(VehicleAddress to, std::uint8_t cv19, std::uint8_t cv20);

/// The instruction behind the address bytes, without error byte; empty when it is of another form or length.
[[nodiscard]] std::optional<CvVerify> decode_verify(std::span<const std::uint8_t> instruction);
[[nodiscard]] std::optional<CvWrite> decode_write(std::span<const std::uint8_t> instruction);
[[nodiscard]] std::optional<CvBit> decode_bit(std::span<const std::uint8_t> instruction);
[[nodiscard]] std::optional<CvShortForm> decode_short_form(std::span<const std::uint8_t> instruction);

}  // namespace lapwright::dcc
