// Target sheets as JSON: by step ("steps28", "steps126") or by notch ("notches").
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "drivers/settings/section.h"
#include "tuning/target_sheet.h"

namespace lapwright::settings {

/// Reads the sheet that stands in `section`; mistakes are noted there, for `Document::finish` to throw.
///
///   {"name": "Slow freight", "unit": "mph", "tolerance": 0.1, "tolerance_share": 0.02, "fill": "linear",
///    "prove": "entries", "speed_over": "trap", "steps28": {"1": 1.0, "28": {"speed": 18.0, "tolerance": 0.4}}}
///
/// or, instead of "steps28": "steps126": {…}, or "notches": [{"notch": "1", "step": 4, "speed": 2.5}, …] with
/// "throttle_steps": 28 or 126. Only "name", "unit" and one kind of points must be there. Steps are proved at the
/// table's entries by default, notches at themselves.
[[nodiscard]] TargetSheet read_sheet(Section section);
/// @param name  what to call the text in messages. @throws Errors
[[nodiscard]] TargetSheet parse_sheet(std::string_view text, const std::string& name);
/// @throws Errors
[[nodiscard]] TargetSheet load_sheet(const std::filesystem::path& path);
/// The sheet in the same format, every setting spelt out; reads back as the same sheet.
[[nodiscard]] std::string write_sheet(const TargetSheet& sheet);

}  // namespace lapwright::settings
