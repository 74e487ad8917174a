// What the DCC checks share: packets as hex text, and a row of the check values with its source.
#pragma once

#include <boost/test/unit_test.hpp>
#include <cstdint>
#include <cstdio>
#include <span>
#include <string>
#include <vector>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"
#include "tuning/throttle.h"

namespace lapwright {

/// "03 62 61"
inline std::string hex(std::span<const std::uint8_t> bytes) {
  std::string text;
  for (const std::uint8_t byte : bytes) {
    char two[4];
    std::snprintf(two, sizeof two, "%02X ", static_cast<unsigned>(byte));
    text += two;
  }
  if (!text.empty()) text.pop_back();
  return text;
}

inline constexpr Direction fwd = Direction::forward;
inline constexpr Direction rev = Direction::reverse;
inline const dcc::VehicleAddress short_3 = dcc::VehicleAddress::short_form(3);
inline const dcc::VehicleAddress long_1234 = dcc::VehicleAddress::long_form(1234);
inline const dcc::VehicleAddress long_9999 = dcc::VehicleAddress::long_form(9999);

/// A packet of the list of check values; `row` is its number there.
struct PacketRow {
  int row;
  dcc::Packet made;
  const char* expected;
  const char* source;
};

inline void check_rows(const std::vector<PacketRow>& rows) {
  for (const PacketRow& row : rows) {
    BOOST_TEST_CONTEXT("check value " << row.row << ", source: " << row.source) {
      BOOST_TEST(hex(row.made) == row.expected);
      BOOST_TEST(dcc::undamaged(row.made));
    }
  }
}

}  // namespace lapwright
