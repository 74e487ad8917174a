// One JSON file says it all: the rig, the track as the tuner is told of it, the shift, the limits, where things go.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/allowed_hours.h"
#include "daemon/hook_settings.h"
#include "daemon/shift_file.h"
#include "daemon/shift_rules.h"
#include "daemon/staging_setup.h"
#include "daemon/wired_setup.h"
#include "daemon/work.h"
#include "drivers/safety/guarded_rig.h"
#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/railway_description.h"
#include "tuning/test_track.h"
#include "tuning/trap_choice.h"
#include "tuning/tune.h"

namespace lapwright {

/// A simulated railway and the engines that stand beside it, to be put on the track one after another.
struct SimulatedSetup {
  std::uint64_t seed = 1;
  simulated::RailwayDescription railway;
  std::vector<simulated::EngineDescription> engines;
};

struct Configuration {
  std::filesystem::path file;
  std::string railway;              ///< its name, for headings
  SimulatedSetup rig;               ///< where `wires` is empty
  std::optional<WiredSetup> wires;  ///< a rig on real wires
  TestTrack track;                  ///< as told to the tuner
  StagingSetup staging;             ///< none: engines come by hand
  TrapWish trap;
  std::vector<ShiftEntry> shift;               ///< whom the queue begins with
  std::vector<ShiftEntry> fleet;               ///< others that people may add by name
  std::filesystem::path reports;               ///< folder
  double confidence = TuneOrder{}.confidence;  ///< of every proof
  double patience = TuneOrder{}.patience;      ///< see TuneOrder
  std::filesystem::path state;                 ///< folder: the last trip, running times
  GuardLimits limits;
  AllowedHours hours;
  RunningCaps caps;
  RetryRule retry;
  LeaveRule leave;
  HookSettings hooks;
  double engine_budget_s = 6 * 3600;  ///< of track time for one engine
  std::filesystem::path control_socket;
  std::string log_level = "info";
  std::string effective;  ///< every setting in use, one a line

  /// Shift and fleet.
  [[nodiscard]] std::vector<ShiftEntry> engines() const {
    std::vector<ShiftEntry> all = shift;
    all.insert(all.end(), fleet.begin(), fleet.end());
    return all;
  }
};

/// Paths in it are relative to the file. @param shift_file  in the place of the shift that it names; empty: that one
/// @throws settings::Errors  all mistakes with file, line, pointer and remedy
[[nodiscard]] Configuration load_configuration(const std::filesystem::path& path,
                                               const std::filesystem::path& shift_file = {});

/// The records and sheets that a configuration names, as far as it can be read: its mistakes are told by loading it.
/// @param shift_file  see load_configuration
[[nodiscard]] std::vector<ShiftEntry> engines_of(const std::filesystem::path& path,
                                                 const std::filesystem::path& shift_file = {});

/// What systemd gives the service, or "state/NAME", relative to the configuration's folder as all its paths are, so
/// that two of them don't share one.
[[nodiscard]] std::filesystem::path default_state(const std::filesystem::path& file);

/// $XDG_RUNTIME_DIR/lapwright.sock, or /run/lapwright/lapwright.sock where there is none.
[[nodiscard]] std::filesystem::path default_control_socket();

}  // namespace lapwright
