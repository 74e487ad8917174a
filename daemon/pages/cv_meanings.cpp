#include <spdlog/fmt/fmt.h>

#include <array>

#include "daemon/pages/cv_names.h"
#include "tuning/cv.h"
#include "tuning/cv_encoding.h"

namespace lapwright {
namespace {

using KnownCvs = std::map<int, std::uint8_t>;

std::optional<std::uint8_t> partner(const KnownCvs& cvs, int number) {
  const auto found = cvs.find(number);
  return found == cvs.end() ? std::nullopt : std::optional(found->second);
}

std::string joined(const std::vector<std::string>& parts, std::string_view between) {
  return fmt::format("{}", fmt::join(parts, between));
}

/// The names of the bits that are set; `none` where no bit is.
template <std::size_t size>
std::string set_bits(std::uint8_t value, const std::array<std::string_view, size>& names, std::string_view none) {
  std::vector<std::string> parts;
  for (std::size_t bit = 0; bit < size; ++bit) {
    if (((value >> bit) & 1U) != 0) parts.emplace_back(names[bit]);
  }
  return parts.empty() ? std::string(none) : joined(parts, ", ");
}

std::string drive_share(std::uint8_t value) {
  return fmt::format("{:.1f} % of full drive", cv::cv_to_share(value) * 100);
}

/// CV5 and CV6 (S-9.2.2 l. 66-76): 0 and 1 drop the point.
std::string optional_drive(std::uint8_t value, std::string_view where) {
  return value < 2 ? "not used" : fmt::format("{} at {}", drive_share(value), where);
}

std::string momentum(std::uint8_t rate, std::optional<std::uint8_t> adjustment, int speed_steps) {
  const int effective = effective_rate(rate, adjustment.value_or(0));
  if (effective == 0) return "no momentum";
  const double step_s = momentum_s_per_step(effective, speed_steps);
  std::string text = fmt::format("{:.3f} s a step, {:.1f} s over all {}", step_s, step_s * speed_steps, speed_steps);
  if (effective != rate) text += fmt::format(" (with its adjustment: {})", effective);
  return text;
}

std::string adjustment(std::uint8_t value) {
  if ((value & 0x7F) == 0) return "none";
  return fmt::format("{} {}", (value & 0x80) != 0 ? "less" : "more", value & 0x7F);
}

std::string lock(const KnownCvs& cvs) {
  const auto key = partner(cvs, 15);
  const auto held = partner(cvs, 16);
  if (!key || !held) return "CVs can only be changed while CV15 and CV16 are equal";
  return *key == *held ? "open: CV15 and CV16 are equal" : "locked: CV15 and CV16 differ";
}

std::string extended_address(const KnownCvs& cvs) {
  const auto high = partner(cvs, 17);
  const auto low = partner(cvs, 18);
  if (!high || !low) return "with its other half the long address";
  const auto address = long_address(*high, *low);
  return address ? fmt::format("long address {}", *address) : "CV17 and CV18 hold no long address";
}

std::string consist_text(std::uint8_t value, const KnownCvs& cvs) {
  const ConsistAddress consist = consist_address(value, partner(cvs, 20).value_or(0));
  if (consist.address == 0) return "in no consist";
  return fmt::format("consist {}, {} direction", consist.address, consist.reversed ? "reversed" : "normal");
}

/// CV9 (S-9.2.2 l. 87-93).
std::string pwm_period(std::uint8_t value) {
  const int mantissa = value & 0x1F;
  const int exponent = value >> 5;
  return fmt::format("{} µs", (131 + mantissa * 4) << exponent);
}

/// CV25 (S-9.2.2 l. 171-177).
std::string preset_table(std::uint8_t value) {
  if (value < 2) return "not used";
  if (value == 2) return "preset table 2, linear";
  if (value < 128) return fmt::format("preset table {}", value);
  return value <= 154 ? fmt::format("Vmid stands at step {} of 28", value - 128) : "no effect";
}

std::string page_of_index(const KnownCvs& cvs) {
  const auto high = partner(cvs, 31);
  const auto low = partner(cvs, 32);
  if (!high || !low) return "belongs to the page that CV31 and CV32 choose, which is not known";
  return fmt::format("on page {} ({}, {}){}", *high * 256 + *low, *high, *low, *high >= 16 ? ", maker's own" : "");
}

std::string trim(std::uint8_t value, std::string_view direction) {
  if (value == 0) return fmt::format("{} not trimmed", direction);  // S-9.2.2 l. 272-275: 0 is not "factor 0"
  return fmt::format("drive × {:.3f} in {}", value / 128.0, direction);
}

constexpr std::array<std::string_view, 8> functions_1_8 = {"F1", "F2", "F3", "F4", "F5", "F6", "F7", "F8"};
// Bits 6 and 7 are RCN-225's; S-9.2.2 l. 148-153 ends at F12.
constexpr std::array<std::string_view, 8> functions_above = {"FL(f)", "FL(r)", "F9",      "F10",
                                                             "F11",   "F12",   "F13-F20", "F21-F28"};
constexpr std::array<std::string_view, 8> stops = {  // CV27, S-9.2.2 l. 180-198
    "asymmetry, right rail more positive",  "asymmetry, left rail more positive", "gaps in the signal", "reserved",
    "direct current against the direction", "direct current in the direction",    "reserved",           "reserved"};
constexpr std::array<std::string_view, 8> channels = {  // CV28, RCN-217 and RCN-225
    "channel 1: address",
    "channel 2: data and acknowledgement",
    "channel 1 switches off by itself",
    "ID 3 in channel 1",
    "programming address",
    "reserved",
    "high current",
    "automatic logon"};

/// CV1 … CV30, as far as a value says more than the name.
std::optional<std::string> meaning_below_31(int number, std::uint8_t value, const KnownCvs& cvs, int speed_steps) {
  switch (number) {
    case cv::address:  // S-9.2.2 l. 44-49
      return value >= 1 && value <= 127 ? fmt::format("short address {}", value) : "no short address";
    case cv::start_voltage:
      return drive_share(value) + " at step 1";
    case cv::acceleration:
      return momentum(value, partner(cvs, cv::acceleration_adjustment), speed_steps);
    case cv::deceleration:
      return momentum(value, partner(cvs, cv::deceleration_adjustment), speed_steps);
    case cv::top_voltage:
      return optional_drive(value, "the top step");
    case cv::mid_voltage:
      return optional_drive(value, "the middle step");
    case 9:
      return pwm_period(value);
    case 7:
      return "free for the maker; can't be written";
    case 8:  // S-9.2.2 l. 81-85; RCN-225: 238 extends it
      return value == 238 ? "the number is in CV107 and CV108" : "number given by the NMRA; can't be written";
    case 10:  // S-9.2.2 l. 95-97; the maker's own by RCN-225
      return value == 0 ? "not used" : fmt::format("regulates up to speed step {}", value);
    case 11:  // S-9.2.4 l. 86-87 tells no unit
      return value == 0 ? "time-out off" : "stops after so long without a packet for it";
    case 13:
      return set_bits(value, functions_1_8, "none") + " on without DCC";
    case 14:
      return set_bits(static_cast<std::uint8_t>(value & 0x3F), functions_above, "none") + " on without DCC";
    case 15:
    case 16:
      return lock(cvs);
    case 17:
    case 18:
      return extended_address(cvs);
    case cv::consist_address:
      return consist_text(value, cvs);
    case 20:
      return (value & 0x7F) == 0 ? "no hundreds" : fmt::format("hundreds of the consist address: {}", value & 0x7F);
    case cv::consist_functions_1_8:
      return set_bits(value, functions_1_8, "none") + " from the consist address";
    case cv::consist_functions_0_9_12:
      return set_bits(value, functions_above, "none") + " from the consist address";
    case cv::acceleration_adjustment:
    case cv::deceleration_adjustment:
      return adjustment(value);
    case 25:
      return preset_table(value);
    case 27:
      return set_bits(value, stops, "no automatic stopping");
    case 28:
      return set_bits(value, channels, "both channels off");
    case cv::configuration:
      return value == 0 ? "no bit set" : joined(configuration_bits(value), "; ");
    case 30:
      return value == 0 ? "no error" : "an error, told by the maker";
    default:
      return std::nullopt;
  }
}

}  // namespace

std::string cv_meaning(int number, std::uint8_t value, const std::map<int, std::uint8_t>& cvs, int speed_steps) {
  if (const auto meaning = meaning_below_31(number, value, cvs, speed_steps)) return *meaning;
  if (number == cv::forward_trim) return trim(value, "forward");
  if (number == cv::reverse_trim) return trim(value, "reverse");
  if (number >= cv::table_entry(1) && number <= cv::table_entry(cv::table_entries)) return drive_share(value);
  if (number == cv::kick_start) return value == 0 ? "none" : "extra drive from standstill to the first step";
  if (number == 31 || number == 32) return page_of_index(cvs);
  if (number >= 257 && number <= 512) return page_of_index(cvs);
  if (number == 105 || number == 106) return "free for the owner";
  if (number >= 33 && number <= 46) return "outputs that the function switches, one a bit";
  return "";
}

}  // namespace lapwright
