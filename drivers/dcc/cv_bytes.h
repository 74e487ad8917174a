// How a CV number and a bit order are laid out in long-form and service-mode packets alike (NMRA S-9.2.1, S-9.2.3).
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>

namespace lapwright::dcc {

inline constexpr int top_cv = 1024;

/// The two bytes that carry the ten-bit field "CV number minus 1".
struct CvField {
  std::uint8_t high = 0;  ///< two bits, to be joined with the instruction
  std::uint8_t low = 0;
};

/// Throws std::out_of_range for a number outside 1 … 1024.
[[nodiscard]] inline CvField cv_field(int cv) {
  if (cv < 1 || cv > top_cv) {
    throw std::out_of_range("CV" + std::to_string(cv) + " lies outside CV1 … CV1024: correct the CV number");
  }
  return {static_cast<std::uint8_t>((cv - 1) >> 8), static_cast<std::uint8_t>((cv - 1) & 0xFF)};
}

[[nodiscard]] constexpr int cv_number(int high, int low) { return ((high & 3) << 8) + low + 1; }

/// 111FDBBB: F write, D value, BBB position. Throws std::out_of_range for a position outside 0 … 7.
[[nodiscard]] inline std::uint8_t bit_order(int bit, bool value, bool write) {
  if (bit < 0 || bit > 7) throw std::out_of_range("bit " + std::to_string(bit) + " lies outside 0 … 7 of a CV");
  return static_cast<std::uint8_t>(0xE0 | (write ? 0x10 : 0) | (value ? 0x08 : 0) | bit);
}

}  // namespace lapwright::dcc
