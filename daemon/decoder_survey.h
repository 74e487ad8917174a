// Before the first write of a job: whether it is the right engine, and what its decoder holds.
#pragma once

#include <boost/asio/awaitable.hpp>

#include "daemon/engine_file.h"
#include "daemon/shift_book.h"
#include "tuning/cv_ledger.h"

namespace lapwright {

/// Reads maker and version (CV8, CV7), which have to be those that the engine's document knows, then everything that
/// this job may write: the image from before it. A decoder that does not answer has to be seen moving instead, so that
/// nothing is written into another one; only a consist that the record tells of is left first.
/// @param known  from the engine's document. @param allowed  the CVs that the job may write
/// @param moves_anyway  this work has written into the decoder before it took this address, and will see it move first
/// @throws TuneStopped  where it is another engine, or none; RigFault
boost::asio::awaitable<void> survey_decoder(Rig& rig, Clock& clock, const Job& job, const KnownEngine& known,
                                            const std::set<int>& allowed, CvLedger& ledger, JobBook& book,
                                            bool moves_anyway);

}  // namespace lapwright
