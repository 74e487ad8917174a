// Putting a decoder back: everything that is wanted of it, in the order that works on the main.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <string>
#include <vector>

#include "daemon/wanted_cvs.h"
#include "tuning/cv_ledger.h"
#include "tuning/tune.h"

namespace lapwright {

/// Everything but the address; nothing that is known to stand there already. Pages of indexed CVs come last, and the
/// index pointers go back to page 0/0. The ledger's count tells how many were written.
/// @param at_long_address  the decoder obeys its long address now: bit 5 of CV29 stays as that says
/// @returns what a decoder that answers did not confirm, "CV257 of page 16/0": it may not have that
/// @throws RigFault, CvRefused
boost::asio::awaitable<std::vector<std::string>> write_wanted(Rig& rig, const WantedCvs& wanted, bool at_long_address,
                                                              CvLedger& ledger, TuneObserver& observer);

/// The recorded address, to a decoder that stands at another one: from then on it answers there, if it takes that.
/// Whether it did only shows at the new address. @throws RigFault
boost::asio::awaitable<void> write_address(Rig& rig, const EngineRecord& record, const WantedCvs& wanted,
                                           CvLedger& ledger);

}  // namespace lapwright
