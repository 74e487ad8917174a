// Twenty-four invented engines of the Quillmoor & Tarn Light Railway, and what is wrong with six of them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/work.h"
#include "drivers/simulated/engine_description.h"

namespace lapwright::fleet {

enum class Trouble : std::uint8_t {
  none,
  stalls,        ///< its wheels are held, in the middle of the work
  shorts,        ///< it draws what a short circuit draws, in the middle of the work
  wrong_engine,  ///< another engine with its address stands in its place
  reset,         ///< its decoder was reset after its tune
  dirty_gate,    ///< a gate misses every tenth edge, and doubles some, while it runs
  coarse,        ///< 256 drive levels and no trims: some steps can not be reached both ways
};

struct Member {
  simulated::EngineDescription engine;
  Trouble trouble = Trouble::none;
  /// Tuned the night before; the shift only restores it.
  [[nodiscard]] bool was_tuned() const { return trouble == Trouble::reset || trouble == Trouble::wrong_engine; }
  [[nodiscard]] Work work() const { return trouble == Trouble::reset ? Work::restore : Work::tune; }
};

[[nodiscard]] std::vector<Member> roster();

/// Writes the record that its owner would have. @returns the file
std::filesystem::path write_record(const std::filesystem::path& folder, const simulated::EngineDescription& engine);

}  // namespace lapwright::fleet
