// Names as NMRA S-9.2.2 (July 2012) has them; what RCN-225 (July 2025) adds or gives to the makers is marked by "RCN".
#include "daemon/pages/cv_names.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <array>

#include "tuning/cv.h"

namespace lapwright {
namespace {

struct NamedCvs {
  int first = 0;
  int last = 0;
  std::string_view name;
};

constexpr std::array named_cvs = {
    NamedCvs{1, 1, "Primary Address"},
    NamedCvs{2, 2, "Vstart"},
    NamedCvs{3, 3, "Acceleration Rate"},
    NamedCvs{4, 4, "Deceleration Rate"},
    NamedCvs{5, 5, "Vhigh"},
    NamedCvs{6, 6, "Vmid"},
    NamedCvs{7, 7, "Manufacturer Version No."},
    NamedCvs{8, 8, "Manufacturer ID"},
    NamedCvs{9, 9, "Total PWM Period"},
    NamedCvs{10, 10, "EMF Feedback Cutout"},  // RCN: the maker's own
    NamedCvs{11, 11, "Packet Time-Out Value"},
    NamedCvs{12, 12, "Power Source Conversion"},
    NamedCvs{13, 13, "Alternate Mode Function Status F1-F8"},
    NamedCvs{14, 14, "Alternate Mode Function Status FL, F9-F12"},
    NamedCvs{15, 16, "Decoder Lock"},
    NamedCvs{17, 18, "Extended Address"},
    NamedCvs{19, 19, "Consist Address"},
    NamedCvs{20, 20, "Consist Address, hundreds"},  // RCN
    NamedCvs{21, 21, "Consist Address Active for F1-F8"},
    NamedCvs{22, 22, "Consist Address Active for FL and F9-F12"},
    NamedCvs{23, 23, "Acceleration Adjustment"},
    NamedCvs{24, 24, "Deceleration Adjustment"},
    NamedCvs{25, 25, "Speed Table/Mid Range Cab Speed Step"},
    NamedCvs{27, 27, "Decoder Automatic Stopping Configuration"},
    NamedCvs{28, 28, "Bi-Directional Communication Configuration"},
    NamedCvs{29, 29, "Configuration Data"},
    NamedCvs{30, 30, "Error Information"},
    NamedCvs{31, 31, "Index High Byte"},
    NamedCvs{32, 32, "Index Low Byte"},
    NamedCvs{33, 46, "Output Location"},
    NamedCvs{47, 64, "maker's own"},
    NamedCvs{65, 65, "Kick Start"},  // RCN: the maker's own
    NamedCvs{66, 66, "Forward Trim"},
    NamedCvs{67, 94, "Speed Table"},
    NamedCvs{95, 95, "Reverse Trim"},
    NamedCvs{96, 96, "Function Mapping Method"},  // RCN
    NamedCvs{97, 104, "maker's own"},             // RCN; reserved in S-9.2.2
    NamedCvs{105, 105, "User Identifier 1"},
    NamedCvs{106, 106, "User Identifier 2"},
    NamedCvs{107, 108, "Manufacturer ID, extended"},  // RCN
    NamedCvs{109, 111, "Manufacturer Version No., extended"},
    NamedCvs{112, 256, "maker's own"},
    NamedCvs{257, 512, "Indexed CV"},
    NamedCvs{513, 768, "maker's own"},  // RCN; reserved in S-9.2.2
    NamedCvs{880, 895, "Dynamic CV"},
    NamedCvs{897, 1024, "Module interface"},
};

/// CV33 … CV46: one for each of FL(f), FL(r), F1 … F12 (S-9.2.2).
std::string output_name(int number) {
  if (number == 33) return "Output Location FL(f)";
  if (number == 34) return "Output Location FL(r)";
  return fmt::format("Output Location F{}", number - 34);
}

}  // namespace

std::string cv_name(int number) {
  if (number < 1 || number > 1024) return "no CV";
  if (number >= 33 && number <= 46) return output_name(number);
  if (number == 17 || number == 18) return number == 17 ? "Extended Address, high" : "Extended Address, low";
  if (number >= cv::table_entry(1) && number <= cv::table_entry(cv::table_entries)) {
    return fmt::format("Speed Table, step {}", number - cv::table_entry(0));
  }
  const auto holds = [number](const NamedCvs& row) { return number >= row.first && number <= row.last; };
  const auto found = std::find_if(named_cvs.begin(), named_cvs.end(), holds);
  return found == named_cvs.end() ? "reserved" : std::string(found->name);
}

std::vector<std::string> configuration_bits(std::uint8_t cv29) {
  // S-9.2.2 l. 214-233 and RCN-225; bit 6 is reserved in both. Bit 7 gives the others another meaning.
  if ((cv29 & 0x80U) != 0) return {"bit 7: accessory decoder; the other bits mean something else there"};
  constexpr std::array<std::string_view, 7> set = {
      "direction of travel reversed",
      "28 or 128 speed steps; FL has its own instruction",
      "power source conversion (analog) allowed, see CV12",
      "bi-directional communication on",
      "speed table in use",
      "extended address (CV17/18) in use",
      "reserved",
  };
  std::vector<std::string> result;
  for (std::size_t bit = 0; bit < set.size(); ++bit) {
    if (((cv29 >> bit) & 1U) != 0) result.push_back(fmt::format("bit {}: {}", bit, set[bit]));
  }
  return result;
}

std::optional<int> long_address(std::uint8_t cv17, std::uint8_t cv18) {
  if (cv17 < 192 || cv17 > 231) return std::nullopt;  // S-9.2.2 l. 131-135
  const int address = (cv17 - 192) * 256 + cv18;
  return address == 0 ? std::nullopt : std::optional(address);  // RCN-225: no vehicle has address 0
}

LongAddressCvs long_address_cvs(int address) {
  return {static_cast<std::uint8_t>(192 + address / 256), static_cast<std::uint8_t>(address % 256)};
}

int effective_rate(std::uint8_t rate, std::uint8_t adjustment) {
  // S-9.2.2 l. 155-169: bit 7 subtracts. Below zero means no momentum; the largest rate is taken as 255.
  const int magnitude = adjustment & 0x7F;
  return std::clamp((adjustment & 0x80) != 0 ? rate - magnitude : rate + magnitude, 0, 255);
}

double momentum_s_per_step(int rate, int speed_steps) {
  return rate * 0.896 / speed_steps;  // S-9.2.2 l. 57-64
}

ConsistAddress consist_address(std::uint8_t cv19, std::uint8_t cv20) {
  // S-9.2.2 l. 137-140; the hundreds in CV20 are RCN-225's, where more than 10239 is in no consist.
  const int address = (cv20 & 0x7F) * 100 + (cv19 & 0x7F);
  return {address > 10239 ? 0 : address, (cv19 & 0x80) != 0};
}

}  // namespace lapwright
