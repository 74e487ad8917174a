// What a configuration variable is called and what a value in it means, in the words of the standards.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright {

/// NMRA S-9.2.2 and RCN-225; "maker's own" where they leave a number to the maker, "reserved" where to nobody.
/// @param number  1 … 1024; "no CV" for others
[[nodiscard]] std::string cv_name(int number);

/// One line for people: what this value does. Where several CVs belong together (17 with 18, 19 with 20, 3 with 23, 4
/// with 24, 15 with 16, 257 and above with 31 and 32), the others are taken from `cvs`, as far as they stand there.
/// @param speed_steps  28 or 126, as the throttle sends; momentum is told for them
[[nodiscard]] std::string cv_meaning(int number, std::uint8_t value, const std::map<int, std::uint8_t>& cvs,
                                     int speed_steps);

/// What each bit of CV29 that is set says, bit 0 first.
[[nodiscard]] std::vector<std::string> configuration_bits(std::uint8_t cv29);

/// The long address in CV17 and CV18; empty where the two hold none.
[[nodiscard]] std::optional<int> long_address(std::uint8_t cv17, std::uint8_t cv18);
struct LongAddressCvs {
  std::uint8_t cv17 = 0;
  std::uint8_t cv18 = 0;
};
/// @param address  0 … 10239
[[nodiscard]] LongAddressCvs long_address_cvs(int address);

/// CV3 with CV23, or CV4 with CV24: the rate that the decoder works with, 0 … 255.
[[nodiscard]] int effective_rate(std::uint8_t rate, std::uint8_t adjustment);
/// Seconds from one speed step to the next. @param rate  as `effective_rate` tells it
[[nodiscard]] double momentum_s_per_step(int rate, int speed_steps);

struct ConsistAddress {
  int address = 0;  ///< 0: in no consist
  bool reversed = false;
};
/// @param cv20  0 where the decoder has none
[[nodiscard]] ConsistAddress consist_address(std::uint8_t cv19, std::uint8_t cv20);

}  // namespace lapwright
