// From what the owner wants (record, sheet) and has (track) to the order that the tune works by.
#pragma once

#include <string>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/engine_record.h"
#include "tuning/target_sheet.h"
#include "tuning/tune.h"

namespace lapwright {

/// One job of the shift, ready to run.
struct Job {
  EngineRecord record;
  TargetSheet sheet;
  TuneOrder order;
  std::string speed_defined;  ///< where the speed is defined, in words
  Work work = Work::tune;
  ShiftEntry files;                        ///< where record and sheet were read from
  std::optional<StagingPlace> place = {};  ///< where it stands between its turns; empty: it comes by hand
};

/// @throws std::invalid_argument  where sheet, record and track don't fit each other, with what to do
[[nodiscard]] Job make_job(const EngineRecord& record, const TargetSheet& sheet, const Configuration& configuration);

/// The same from the files. @throws settings::Errors  all mistakes in them
[[nodiscard]] Job load_job(const ShiftEntry& entry, const Configuration& configuration);

/// All jobs of the shift; nothing has moved yet. @throws settings::Errors  all mistakes in records and sheets
[[nodiscard]] std::vector<Job> plan_shift(const Configuration& configuration);

}  // namespace lapwright
