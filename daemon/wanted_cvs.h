// What an engine's decoder is to hold: the owner's record, and what the latest work has left in it.
#pragma once

#include <set>
#include <vector>

#include "daemon/engine_file.h"
#include "tuning/cv_memory.h"

namespace lapwright {

struct WantedCvs {
  CvValues plain;                  ///< without the address, the index pointers and what is read-only
  bool table = false;              ///< bit 4 of CV29 is to be set, also where the rest of it is not known
  std::vector<IndexedPage> pages;  ///< CV257 … 512 behind CV31 and CV32 (RCN-225)
};

/// What the tune decides (table, trims, CV2, CV5, the table's bit of CV29) as the engine's document has it; everything
/// else as the record states it, and as the document has it where the record is silent. Debts count as wanted.
[[nodiscard]] WantedCvs wanted_cvs(const EngineRecord& record, const KnownEngine& known);

/// The CVs that a restore may write: the wanted ones by name, the address, and those of a tune.
[[nodiscard]] std::set<int> cvs_of_a_restore(const WantedCvs& wanted);

}  // namespace lapwright
