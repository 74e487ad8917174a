// What a job does once the track is live: the survey, then its kind of work.
#pragma once

#include <optional>
#include <set>

#include "daemon/engine_file.h"
#include "daemon/kept_rig.h"
#include "daemon/shift_book.h"

namespace lapwright {

/// Where a restore stands.
enum class RestoreStage : std::uint8_t {
  whole,               ///< at its own address: everything but that, and the proof
  at_factory_address,  ///< the decoder was reset: everything, the address last
  proof,               ///< the proof alone
};

/// What a work has at hand; all outlive it.
struct WorkMeans {
  const Job& job;
  const EngineRecord& home;  ///< the engine's record; the job's may say another address
  RestoreStage stage;
  const KnownEngine& known;
  const TuneOrder& order;  ///< the job's, with what was measured already
  const std::set<int>& allowed;
  Rig& rig;
  Clock& clock;
  CvLedger& ledger;
  TuneObserver& observer;
  JobBook& book;
};

/// The CVs that the job may write, by the configuration's limits.
[[nodiscard]] std::set<int> allowed_cvs(const Job& job, const KnownEngine& known, const std::set<int>& of_a_tune);

/// @param tuned  what was measured, and how it ended; a fault of rig or decoder stands there, too. Throws nothing but
/// cancellation.
boost::asio::awaitable<void> do_work(JobResult& result, std::optional<TuneResult>& tuned, WorkMeans with);

}  // namespace lapwright
