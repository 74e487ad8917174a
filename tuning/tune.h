// The tune: from an unknown decoder on the test track to a table proved step by step in both directions.
#pragma once

#include <array>
#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "tuning/cv_ledger.h"
#include "tuning/drive.h"
#include "tuning/earlier_session.h"
#include "tuning/pass_reader.h"
#include "tuning/test_track.h"
#include "tuning/transcript.h"
#include "tuning/tune_observer.h"
#include "tuning/verdict.h"

namespace lapwright {

/// Wanted speed of one throttle step on the model's rails.
struct StepAim {
  int step = 0;
  double speed_mm_s = 0;
  double tolerance_mm_s = 0;
  bool prove = false;  ///< must be proved; otherwise only a part of the curve
};

struct TuneOrder {
  StepMode mode = StepMode::steps28;
  std::vector<StepAim> aims;  ///< every step of the mode, rising
  TestTrack track;
  Trap trap;                              ///< where the speed is defined; low gate first met in forward running
  double clear_below_mm = 1e9;            ///< shuttle: clear track outside the low gate
  double clear_above_mm = 1e9;            ///< shuttle: clear track outside the high gate
  Traits traits;                          ///< what the record knows already; the rest is found by experiment
  std::map<int, std::uint8_t> known_cvs;  ///< what the record says the decoder holds
  double confidence = 0.95;               ///< of every proof
  /// Steps that are still open are left as they are after so many times the shortest proof of the whole sheet: what an
  /// unsteady engine, or a step close to the edge of its tolerance, is allowed to cost.
  double patience = 1.7;
  double budget_s = 6 * 3600;  ///< of track time
  std::vector<Heard> before;   ///< by a tune of this same order that was broken off; this one goes on from there
  double away_s = 0;           ///< how long ago that was: the engine has cooled
  std::optional<EarlierSession> earlier;  ///< with `proof`, or where the broken-off tune had it: begins with its table
  std::optional<ProofLeft> proof;
};

enum class TuneEnd : std::uint8_t {
  complete,
  budget_spent,
  unknown_momentum,   ///< CV3/CV4 can't be read and the record does not state them
  engine_not_found,   ///< no gate saw the engine
  other_decoder,      ///< it answers with another maker or version than the engine's did
  table_not_enabled,  ///< the engine does not obey its speed table and it can't be switched on
  position_lost,
  no_room,          ///< a check: on this shuttle no step of it can be measured with the momentum that the decoder holds
  nothing_to_undo,  ///< an undo: what the decoder held before is not known
  cv_refused,
  rig_fault,
};

struct TuneResult {
  TuneEnd end = TuneEnd::complete;
  std::string detail;  ///< sentence for people: what happened and what to do; empty when complete
  Traits traits;
  DriveSettings settings;
  std::vector<CellResult> cells;
  /// Whether the lowest step starts the engine from rest without a kick, by direction; empty where it was not tried.
  std::array<std::optional<bool>, 2> starts;
  std::vector<std::string> remarks;
  double track_s = 0;  ///< time on the track, from the first command to the last; the way back after a break left out
  int passes = 0;      ///< timed passes, failed ones included
  int rejected = 0;
  int writes = 0;
  std::optional<ResponseScales> scales;  ///< how unevenly it runs, as the passes have told
  std::optional<double> top_current_mA;  ///< most at the end of a pass
  StoredResponse response;
  std::optional<ProofLeft> left;  ///< by an inspection
};

/// Runs one tune. Throws nothing but cancellation: every other end is a TuneEnd.
boost::asio::awaitable<TuneResult> tune(Rig& rig, Clock& clock, const TuneOrder& order, CvLedger& ledger,
                                        TuneObserver& observer);

}  // namespace lapwright
