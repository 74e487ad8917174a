// An undo: the decoder gets back what it held before the latest work that wrote into it.
#pragma once

#include <boost/asio/awaitable.hpp>

#include "tuning/cv_ledger.h"
#include "tuning/tune.h"

namespace lapwright {

/// Writes what differs, as far as that is known; a CV whose value nobody knows is written, too.
/// @returns how many were written. @throws RigFault, CvRefused
boost::asio::awaitable<int> put_back(Rig& rig, const CvValues& before, CvLedger& ledger, TuneObserver& observer);

}  // namespace lapwright
