// Reads the description of a simulated railway from JSON: shape, gates, the board's faults, supply and drags.
#pragma once

#include <filesystem>

#include "drivers/settings/section.h"
#include "drivers/simulated/railway_description.h"

namespace lapwright::simulated {

/// The keys are the members of RailwayDescription and its parts, by the same names and units, except that
/// `board.double` is `twin` and `set_down_mm` is `start_mm`. Every key has a default. Mistakes are noted in the
/// section's document.
[[nodiscard]] RailwayDescription read_railway(settings::Section section);
/// @throws settings::Errors  all mistakes of the file, with line and JSON pointer
[[nodiscard]] RailwayDescription load_railway(const std::filesystem::path& path);

}  // namespace lapwright::simulated
