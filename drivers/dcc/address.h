// Addresses of vehicles: the short and the long space, their bytes and CV17/CV18 (NMRA S-9.2.1 §2.1, S-9.2.2).
#pragma once

#include <array>
#include <compare>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

namespace lapwright::dcc {

/// Bytes of an address on the track: one of a short address, two of a long one.
class AddressBytes {
 public:
  explicit AddressBytes(std::uint8_t only) : bytes_{only, 0}, size_(1) {}
  AddressBytes(std::uint8_t first, std::uint8_t second) : bytes_{first, second}, size_(2) {}
  operator std::span<const std::uint8_t>() const { return {bytes_.data(), size_}; }

 private:
  std::array<std::uint8_t, 2> bytes_;
  std::size_t size_;
};

/// Short 3 and long 3 are different addresses: they differ on the track.
class VehicleAddress {
 public:
  static constexpr int top_short = 127;
  static constexpr int top_long = 10239;
  /// 1 … 127, one byte on the track. Throws std::out_of_range.
  [[nodiscard]] static VehicleAddress short_form(int number);
  /// 1 … 10239, two bytes on the track. Throws std::out_of_range.
  [[nodiscard]] static VehicleAddress long_form(int number);

  [[nodiscard]] int number() const { return number_; }
  [[nodiscard]] bool is_long() const { return is_long_; }
  [[nodiscard]] AddressBytes bytes() const;
  auto operator<=>(const VehicleAddress&) const = default;

 private:
  VehicleAddress(int number, bool is_long) : number_(number), is_long_(is_long) {}
  int number_;
  bool is_long_;
};

/// CV17 and CV18 of a long address; the same bytes as on the track (S-9.2.2 l. 131-135).
struct LongAddressCvs {
  std::uint8_t cv17 = 0;
  std::uint8_t cv18 = 0;
  bool operator==(const LongAddressCvs&) const = default;
};

/// Throws std::out_of_range when `number` is not a long address, 1 … 10239.
[[nodiscard]] LongAddressCvs to_cv17_18(int number);
/// Empty when CV17 lies outside 192 … 231, or for address 0, which RCN-225 does not allow for a vehicle.
[[nodiscard]] std::optional<int> from_cv17_18(LongAddressCvs cvs);

/// Whom the first byte speaks to (S-9.2.1 §2.1 l. 58-82).
enum class Partition : std::uint8_t { broadcast, short_vehicle, accessory, long_vehicle, reserved, advanced, idle };
[[nodiscard]] Partition partition(std::uint8_t first_byte);

}  // namespace lapwright::dcc
