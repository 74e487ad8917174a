// The check before a run on real wires: links, station, board, current sensor, gates and relay.
#pragma once

#include <boost/asio/awaitable.hpp>

#include "daemon/check_line.h"
#include "daemon/wired_setup.h"
#include "drivers/lcc/lcc_station.h"
#include "drivers/links/link.h"
#include "drivers/trackside/board.h"

namespace lapwright {

/// What is looked at; board and its link are null where there is none.
struct WiredParts {
  const Link& station_link;
  const lcc::LccStation& station;
  const Link* board_link = nullptr;
  const trackside::Board* board = nullptr;
  const lcc::EventGates* bus_gates = nullptr;  ///< null: gates report to the board
};

/// All but the relay. @param engine_at_work  it may stand in a beam then, and draw current
[[nodiscard]] CheckLines look_at(const WiredParts& parts, const WiredSetup& setup, bool engine_at_work);

/// Feeds the relay from the station, while it is open and then closed: a welded one shows by a current that is the
/// same. The engine taken stands meanwhile; the track is dead afterwards.
class RelayProof {
 public:
  /// @param given_up  becomes true when a person wants everything dead: nothing is switched on then
  RelayProof(lcc::LccStation& station, trackside::Board& board, Clock& clock, const bool& given_up)
      : station_(station), board_(board), clock_(clock), given_up_(given_up) {}
  /// @throws RigFault  station or board don't obey, or it was given up
  boost::asio::awaitable<CheckLine> run();

 private:
  boost::asio::awaitable<double> steady_current();
  void check_wanted() const;

  lcc::LccStation& station_;
  trackside::Board& board_;
  Clock& clock_;
  const bool& given_up_;
};

}  // namespace lapwright
