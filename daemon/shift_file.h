// Who has a turn in a shift, in which order, and within which hours and caps: as a list in the configuration, or as a
// file of its own.
#pragma once

#include <filesystem>
#include <vector>

#include "daemon/allowed_hours.h"
#include "daemon/shift_rules.h"
#include "daemon/work.h"
#include "drivers/settings/section.h"

namespace lapwright {

/// One engine of the shift, by its files.
struct ShiftEntry {
  std::filesystem::path record;
  std::filesystem::path sheet;
  Work work = Work::tune;
};

/// Objects with "record", "sheet" and, unless it is a tune, "work". @param folder  that their paths begin in
[[nodiscard]] std::vector<ShiftEntry> read_entries(settings::Section& parent, const char* key,
                                                   const std::filesystem::path& folder, const char* help);

struct ShiftPlan {
  std::vector<ShiftEntry> engines;
  AllowedHours hours;
  RunningCaps caps;
};

/// What the configuration allows; a shift may take less of it, never more.
struct ShiftFrame {
  AllowedHours hours;
  RunningCaps caps;
};

///   {"engines": [{"record": "…", "sheet": "…", "work": "check"}, …],
///    "hours": [{"from": "22:00", "to": "05:00"}], "caps": {"running_s": 7200, "shift_running_s": 14400}}
/// @throws settings::Errors
[[nodiscard]] ShiftPlan load_shift(const std::filesystem::path& path, const ShiftFrame& frame);

/// The engines alone, as far as the file can be read.
[[nodiscard]] std::vector<ShiftEntry> engines_of_shift(const std::filesystem::path& path);

}  // namespace lapwright
