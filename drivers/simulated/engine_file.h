// Reads engine descriptions from JSON. configs/engines/ shows examples; the keys and their ranges stand in the .cpp.
#pragma once

#include <filesystem>

#include "drivers/settings/section.h"
#include "drivers/simulated/engine_description.h"

namespace lapwright::simulated {

/// Every key has a default except the name. Mistakes are noted in the section's document.
[[nodiscard]] EngineDescription read_engine(settings::Section section);
/// @throws settings::Errors  all mistakes of the file, with line and JSON pointer
[[nodiscard]] EngineDescription load_engine(const std::filesystem::path& path);

}  // namespace lapwright::simulated
