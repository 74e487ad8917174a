// Reads a simulated engine from a JSON file, so that anybody can add one: configs/engines/ holds examples.
#pragma once

#include <filesystem>

#include "drivers/settings/section.h"
#include "drivers/simulated/engine_description.h"

namespace lapwright::simulated {

/// The keys are the members of EngineDescription and its parts, by the same names and units; `cvs` is an object such as
/// {"CV3": 28}, and `notes` is for people. Only the name must be there. What depends on another key: `ratio` and
/// `motor.volts` come from the scale, `drive_bits` (8 when coarse, else 10), `trims_act` (not when coarse) and
/// `regulated` (not when open_loop) from the group. A CV1, CV17 or CV18 is refused: `address` says it.
/// Mistakes are noted in the section's document.
[[nodiscard]] EngineDescription read_engine(settings::Section section);
/// @throws settings::Errors  all mistakes of the file, with line and JSON pointer
[[nodiscard]] EngineDescription load_engine(const std::filesystem::path& path);

}  // namespace lapwright::simulated
