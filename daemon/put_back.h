// An undo: the decoder gets back what it held before the latest work that wrote into it.
#pragma once

#include <boost/asio/awaitable.hpp>

#include "tuning/cv_ledger.h"
#include "tuning/tune.h"

namespace lapwright {

/// Writes what differs, as far as that is known; a CV whose value nobody knows is written, too. Its address stays.
/// @param at_long_address  that is the one it obeys: bit 5 of CV29 stays as that says
/// @returns how many were written. @throws RigFault, CvRefused
boost::asio::awaitable<int> put_back(Rig& rig, const CvValues& before, bool at_long_address, CvLedger& ledger,
                                     TuneObserver& observer);

}  // namespace lapwright
