// The part of the configuration that describes staging tracks: where they are, how to get there, and who stands in
// them.
#pragma once

#include <filesystem>
#include <optional>
#include <vector>

#include "drivers/settings/section.h"
#include "drivers/turnout.h"
#include "tuning/staging_run.h"
#include "tuning/tune.h"

namespace lapwright {

/// The k-th staging track is reached by route k.
struct StagingBerth {
  std::filesystem::path record;  ///< of the engine whose place it is
  double stop_short_mm = 0;      ///< of its buffers
};

struct StagingSetup {
  std::vector<StagingBerth> berths;
  TurnoutRoutes routes;
};

///   {"clear_gate": "west", "out": "forward", "turnout_s": 1.5, "main": [ORDER, …],
///    "tracks": [{"record": "records/bracken.json", "to_buffer_mm": 1700, "faces": "out", "turnouts": [ORDER, …]}, …]}
/// An ORDER is {"accessory": 12, "lie": "diverging"} or {"event": "05.01.01.01.22.60.00.01"}.
/// @param wired  turnouts are set by orders; on the simulated railway they are not
void read_staging(settings::Section section, const std::filesystem::path& folder, bool wired, TestTrack& track,
                  StagingSetup& staging);

/// Where the engine of that record stands between its turns; empty: it comes by hand.
[[nodiscard]] std::optional<StagingPlace> staging_place(const StagingSetup& staging,
                                                        const std::filesystem::path& record, const TuneOrder& order);

}  // namespace lapwright
