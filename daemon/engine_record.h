// The owner's record of one engine: what it is called, where it answers, and what is known of its decoder.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "drivers/settings/section.h"
#include "tuning/drive.h"
#include "tuning/scale.h"

namespace lapwright {

struct EngineRecord {
  std::string name;
  std::string road_number;
  Scale scale;
  int address = 3;
  bool long_address = false;
  std::optional<double> length_mm;  ///< over couplers; needed on a shuttle
  std::map<int, std::uint8_t> cvs;  ///< what the decoder is known to hold
  Traits traits;
  std::string notes;
};

/// Mistakes are noted in the section's document.
///
///   {"name": "Bracken", "road_number": "14", "scale": "HO", "address": {"short": 14}, "length_mm": 190,
///    "cvs": {"CV3": 28, "CV4": 20, "CV19": 0, "CV29": 6}, "traits": {"trims_act": true}, "notes": "…"}
///
/// Name, scale (by name, or its ratio as a number) and address (or {"long": 4711}) must be there.
[[nodiscard]] EngineRecord read_record(settings::Section section);
/// @throws settings::Errors
[[nodiscard]] EngineRecord parse_record(std::string_view text, const std::string& name);
/// @throws settings::Errors
[[nodiscard]] EngineRecord load_record(const std::filesystem::path& path);

/// "Bracken no. 14", or just the name.
[[nodiscard]] std::string title(const EngineRecord& record);

/// "bracken_14": the engine's name and road number in letters that every file system takes.
[[nodiscard]] std::string file_stem(const EngineRecord& record);

}  // namespace lapwright
