#include "drivers/dcc/address.h"

#include <stdexcept>
#include <string>

namespace lapwright::dcc {
namespace {

constexpr int first_long_byte = 192;
constexpr int last_long_byte = 231;

int within(const char* what, int number, int top) {
  if (number < 1 || number > top) {
    throw std::out_of_range(std::string(what) + " address " + std::to_string(number) + " lies outside 1 … " +
                            std::to_string(top) + ": give the address that the decoder is set to");
  }
  return number;
}

}  // namespace

VehicleAddress VehicleAddress::short_form(int number) { return {within("short", number, top_short), false}; }

VehicleAddress VehicleAddress::long_form(int number) { return {within("long", number, top_long), true}; }

AddressBytes VehicleAddress::bytes() const {
  if (!is_long_) return AddressBytes(static_cast<std::uint8_t>(number_));
  const LongAddressCvs both = to_cv17_18(number_);
  return {both.cv17, both.cv18};
}

LongAddressCvs to_cv17_18(int number) {
  within("long", number, VehicleAddress::top_long);
  return {static_cast<std::uint8_t>(first_long_byte + number / 256), static_cast<std::uint8_t>(number % 256)};
}

std::optional<int> from_cv17_18(LongAddressCvs cvs) {
  if (cvs.cv17 < first_long_byte || cvs.cv17 > last_long_byte) return std::nullopt;
  const int number = (cvs.cv17 - first_long_byte) * 256 + cvs.cv18;
  if (number == 0) return std::nullopt;
  return number;
}

Partition partition(std::uint8_t first_byte) {
  if (first_byte == 0) return Partition::broadcast;
  if (first_byte <= 127) return Partition::short_vehicle;
  if (first_byte <= 191) return Partition::accessory;
  if (first_byte <= last_long_byte) return Partition::long_vehicle;
  if (first_byte <= 252) return Partition::reserved;
  return first_byte == 255 ? Partition::idle : Partition::advanced;
}

}  // namespace lapwright::dcc
