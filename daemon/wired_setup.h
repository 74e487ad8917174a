// The part of the configuration that describes a rig on real wires.
#pragma once

#include <filesystem>
#include <optional>
#include <vector>

#include "drivers/lcc/event_gates.h"
#include "drivers/lcc/lcc_station.h"
#include "drivers/links/link_address.h"
#include "drivers/settings/section.h"
#include "drivers/trackside/board.h"

namespace lapwright {

struct WiredBoard {
  LinkAddress link;
  trackside::BoardWish wish;
};

struct WiredSetup {
  LinkAddress station_link;
  lcc::StationSettings station;
  std::optional<WiredBoard> board;
  std::vector<lcc::GateEvents> gate_events;  ///< instead of the board's gates
  TurnoutRoutes routes;                      ///< none: no staging tracks
};

/// {"device": …} or {"host": …, "port": …}
/// @param folder       of the file: a device's name may be relative to it
/// @param lowest_port  0 where any free port will do
[[nodiscard]] LinkAddress read_link(settings::Section section, const std::filesystem::path& folder,
                                    int lowest_port = 1);
/// Each {"blocked": event, "clear": event}; none if the key is missing.
[[nodiscard]] std::vector<lcc::GateEvents> read_gate_events(settings::Section& section);

[[nodiscard]] WiredSetup read_wires(settings::Section section, const std::filesystem::path& folder);

/// Its events are announced.
void use_routes(WiredSetup& wires, const TurnoutRoutes& routes);

/// Complains where board gates or events don't match the number of the track's gates.
void check_gates(settings::Section section, const WiredSetup& wires, std::size_t gates);

}  // namespace lapwright
