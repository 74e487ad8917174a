// Service-mode packets for the programming track: direct access and the two literal ones (NMRA S-9.2.3).
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <variant>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/packet.h"

namespace lapwright::dcc::service {

/// Direct access, 0111CCAA AAAAAAAA DDDDDDDD. No address: every decoder on the isolated track obeys.
/// All throw std::out_of_range for a CV outside 1 … 1024 or a bit outside 0 … 7.
[[nodiscard]] Packet write_cv(int cv, std::uint8_t value);
[[nodiscard]] Packet verify_cv(int cv, std::uint8_t value);
[[nodiscard]] Packet write_cv_bit(int cv, int bit, bool value);
[[nodiscard]] Packet verify_cv_bit(int cv, int bit, bool value);
/// Value 8 to physical register 8, as printed in S-9.2.3 l. 285.
[[nodiscard]] Packet factory_reset();
/// Page preset, as printed in S-9.2.3 l. 92.
[[nodiscard]] Packet page_preset();

/// Direct-access packets have the bytes of a short vehicle address 112 … 127; only the mode tells them apart. Empty
/// when damaged or not direct access.
[[nodiscard]] std::optional<std::variant<CvVerify, CvWrite, CvBit>> parse(std::span<const std::uint8_t> packet);

}  // namespace lapwright::dcc::service
