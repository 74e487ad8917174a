// A DCC packet as bytes on the track: framing, error byte and the time it takes (NMRA S-9.1, S-9.2 §A, §B).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <span>

namespace lapwright::dcc {

/// A complete packet with its error byte. The longest is a four-byte XPOM write to a long address: 11 bytes.
class Packet {
 public:
  static constexpr std::size_t max_size = 12;
  Packet() = default;
  /// `parts` one after the other, followed by their error byte.
  /// Throws std::length_error when that would be longer than `max_size`.
  explicit Packet(std::initializer_list<std::span<const std::uint8_t>> parts);
  /// A received packet, error byte included and not judged. Throws std::length_error beyond `max_size`.
  [[nodiscard]] static Packet received(std::span<const std::uint8_t> bytes);

  [[nodiscard]] std::span<const std::uint8_t> bytes() const { return {bytes_.data(), size_}; }
  operator std::span<const std::uint8_t>() const { return bytes(); }
  bool operator==(const Packet&) const = default;

 private:
  void append(std::span<const std::uint8_t> part);
  std::array<std::uint8_t, max_size> bytes_{};  // unused bytes stay zero, so that equality is plain
  std::size_t size_ = 0;
};

/// XOR of all bytes (S-9.2 §B l. 63-69).
[[nodiscard]] std::uint8_t error_byte(std::span<const std::uint8_t> bytes);
/// True for a packet of at least three bytes whose error byte, the last one, is right.
[[nodiscard]] bool undamaged(std::span<const std::uint8_t> packet);

inline constexpr int one_bit_us = 116;            ///< nominal whole bit (S-9.1 Table 2.1)
inline constexpr int zero_bit_us = 200;           ///< nominal whole bit (S-9.1 Table 2.1)
inline constexpr int usual_preamble_bits = 17;    ///< satisfies S-9.2 (14), NEM 671 (16) and RCN-211 (17)
inline constexpr int service_preamble_bits = 20;  ///< S-9.2.3 l. 74-76

/// Time on the track in µs with nominal bits: preamble, start bits, bytes and the packet end bit (S-9.2 §A).
[[nodiscard]] int duration_us(std::span<const std::uint8_t> packet, int preamble_bits = usual_preamble_bits);

}  // namespace lapwright::dcc
