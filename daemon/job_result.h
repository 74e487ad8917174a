// What came of one job, whatever its end was.
#pragma once

#include <cstdint>
#include <exception>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/check.h"
#include "daemon/work.h"
#include "drivers/safety/stop_reason.h"
#include "tuning/tune.h"

namespace lapwright {

struct JobResult {
  Work work = Work::tune;
  std::string told;                      ///< what a work that is no tune came to, in a sentence
  std::optional<Condition> condition;    ///< that a check has found
  TuneResult tune;                       ///< of a tune that was broken off: what had been settled by then
  bool broken_off = false;               ///< by a person or a signal, before its end
  std::optional<Stop> stop;              ///< why the guard stopped the engine
  std::map<int, std::uint8_t> cvs;       ///< what the decoder holds now, as far as it is known
  std::map<int, std::uint8_t> owed;      ///< original values that could not be written back
  CvValues identity;                     ///< CV7 and CV8, where the decoder told them
  CvValues before;                       ///< what it held before the first write, as far as it told
  bool left_dead = true;                 ///< power was seen to be off at its end
  std::vector<std::string> troubles;     ///< on the way out: halting, writing back, cutting power
  std::vector<std::string> unprotected;  ///< protection that was missing
  std::optional<std::uint64_t> seed;     ///< of a simulated railway
  std::exception_ptr fault;              ///< of the program itself, to be thrown on once the track is free
};

[[nodiscard]] inline bool needs_person(const JobResult& result) {
  return result.broken_off || result.stop || result.tune.end != TuneEnd::complete || !result.owed.empty() ||
         !result.troubles.empty() || (result.condition && *result.condition != Condition::as_tuned);
}

/// A trip: the next engine can't be tuned before a person has looked.
[[nodiscard]] inline bool rig_is_lost(const JobResult& result) { return result.stop && latches(result.stop->reason); }

/// It came to an end of its own, and is not gone on with.
[[nodiscard]] inline bool is_through(const JobResult& result) {
  return !result.broken_off && !rig_is_lost(result) && !result.fault;
}

}  // namespace lapwright
