// Decoder control and consist control packets (NMRA S-9.2.1 §2.3.1).
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"

namespace lapwright::dcc {

/// The instruction byte of decoder control, 0000TTTF; factory test is left out on purpose: it is never sent.
enum class DecoderControl : std::uint8_t {
  reset = 0x00,
  hard_reset = 0x01,         ///< CV29, 31, 32 to factory values, CV19 = 0, then reset
  use_short_address = 0x0A,  ///< clears CV29 bit 5
  use_long_address = 0x0B,   ///< sets CV29 bit 5
  request_acknowledge = 0x0F,
};

/// Joins or leaves a consist; the decoder stores it in CV19.
struct ConsistControl {
  int consist = 0;  ///< 1 … 127; 0 leaves the consist
  bool reversed = false;
  bool operator==(const ConsistControl&) const = default;
};

[[nodiscard]] Packet decoder_control(VehicleAddress to, DecoderControl control);
/// Throws std::out_of_range for a consist address outside 0 … 127.
[[nodiscard]] Packet consist_control(VehicleAddress to, int consist, bool reversed);
/// Takes every vehicle out of its consist (RCN-212).
[[nodiscard]] Packet broadcast_leave_consists();

[[nodiscard]] std::optional<DecoderControl> decode_decoder_control(std::uint8_t instruction);
[[nodiscard]] std::optional<ConsistControl> decode_consist_control(std::uint8_t instruction, std::uint8_t data);

}  // namespace lapwright::dcc
