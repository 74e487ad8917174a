// Who follows a tune while it runs.
#pragma once

#include <string>

#include "tuning/transcript.h"
#include "tuning/verdict.h"

namespace lapwright {

/// Told as it happens; must not block.
class TuneObserver {
 public:
  virtual ~TuneObserver() = default;
  virtual void phase(const std::string& what) = 0;
  virtual void pass(int step, Direction direction, double speed_mm_s) = 0;
  virtual void settled(const CellResult& cell) = 0;  ///< a verdict was reached or changed
  /// A proof does not hold any more: later passes say otherwise, and the cell is measured again.
  virtual void withdrawn(const CellResult& /*cell*/) {}
  virtual void progress(int settled_cells, int all_cells) = 0;
  /// True: what follows is recalled from a tune that was broken off, and was told then. False: from now on it happens.
  virtual void recalls(bool /*still*/) {}
  /// What another tune needs in order to go on from here. Told before anything is done about it; a tune that goes on
  /// does not tell again what it was told.
  virtual void heard(const Heard& /*what*/) {}
};

}  // namespace lapwright
