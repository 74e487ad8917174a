// A whole shift as the service runs it, on a virtual clock: so fast that it can be broken off hundreds of times.
#pragma once

#include "daemon/shift.h"
#include "tests/crashes/remembering_stand.h"

namespace lapwright::crashes {

/// What is left when a service is gone, besides its files.
struct World {
  Configuration configuration;
  Decoders decoders;
  std::time_t now = 0;  ///< each start is two hours after the last: the engine of a new simulated railway is cold
};

/// The railway of configs/demo.json with two engines, Tarn Lady and the works' Rowan, whose verdicts do not hang on
/// luck: no step lies near to the edge of its tolerance. @param engines  of them, from the first on
[[nodiscard]] World quick_world(std::size_t engines);

/// Goes on with the shift that the state folder knows of, or begins one. @param changed  see RememberingStand
/// @throws what the shift throws; std::runtime_error where it does not end
ShiftResult run_on(World& world, Storage& storage, const std::filesystem::path& folder, std::function<void()> changed);

/// The records of the folder's journal.
[[nodiscard]] std::vector<Record> journal_of(Storage& storage, const std::filesystem::path& folder);

/// What must hold of a finished shift's records, whatever broke it off: empty, or what does not.
[[nodiscard]] std::vector<std::string> complaints(const std::vector<Record>& records);

/// Verdict by engine, step and direction, the last word of each.
using Verdicts = std::map<std::string, std::string>;
[[nodiscard]] Verdicts verdicts(const std::vector<Record>& records);

}  // namespace lapwright::crashes
