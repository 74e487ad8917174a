// The owner's record of one engine: what it is called, where it answers, and what is known of its decoder.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/settings/section.h"
#include "tuning/drive.h"
#include "tuning/scale.h"

namespace lapwright {

/// CVs behind the index of CV31 and CV32 (RCN-225, S-9.2.2).
struct IndexedPage {
  std::uint8_t high = 0;            ///< CV31
  std::uint8_t low = 0;             ///< CV32
  std::map<int, std::uint8_t> cvs;  ///< of CV257 … 512
};

struct EngineRecord {
  std::string name;
  std::string road_number;
  Scale scale;
  int address = 3;
  bool long_address = false;
  std::optional<double> length_mm;  ///< over couplers; needed on a shuttle
  std::map<int, std::uint8_t> cvs;  ///< what the decoder is known to hold
  std::vector<IndexedPage> pages;   ///< and what a restore is to write behind the index
  Traits traits;
  std::string notes;
};

/// Mistakes are noted in the section's document.
///
///   {"name": "Bracken", "road_number": "14", "scale": "HO", "address": {"short": 14}, "length_mm": 190,
///    "cvs": {"CV3": 28, "CV4": 20, "CV19": 0, "CV29": 6}, "traits": {"trims_act": true}, "notes": "…"}
///
/// Beside "cvs" there may be "indexed_cvs": [{"page": [16, 1], "cvs": {"CV257": 4}}], for a restore. Name, scale (by
/// name, or its ratio as a number) and address (or {"long": 4711}) must be there.
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
