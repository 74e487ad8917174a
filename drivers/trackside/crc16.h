// The check sum of the trackside board's lines.
#pragma once

#include <cstdint>
#include <string_view>

namespace lapwright::trackside {

/// CRC-16/IBM-3740: polynomial 0x1021, initial value 0xFFFF, not reflected, no final exclusive-or; of "123456789":
/// 0x29B1.
[[nodiscard]] constexpr std::uint16_t crc16(std::string_view bytes) {
  unsigned sum = 0xFFFF;
  for (const char byte : bytes) {
    sum ^= static_cast<unsigned>(static_cast<unsigned char>(byte)) << 8U;
    for (int bit = 0; bit < 8; ++bit) sum = (sum & 0x8000U) != 0 ? (sum << 1U) ^ 0x1021U : sum << 1U;
    sum &= 0xFFFFU;
  }
  return static_cast<std::uint16_t>(sum);
}

}  // namespace lapwright::trackside
