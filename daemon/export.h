// All measurements that the journals hold, for other programs.
#pragma once

#include <string>
#include <vector>

#include "daemon/store/journal.h"

namespace lapwright {

/// One shift's journal.
struct ShiftRecords {
  std::string file;  ///< its name
  JournalText text;
};

/// Of all shifts, in order. @param folder  of the journals @throws FileLost
[[nodiscard]] std::vector<ShiftRecords> all_shifts(Storage& storage, const std::filesystem::path& folder);

/// One line for each timed pass, failed ones included, as RFC 4180 has it, with a line of names first:
/// shift,number,at,engine,sheet,step,direction,drive,speed_mm_s,timing_sd_mm_s,doubt_mm_s,running_s,trouble. Drive in
/// counts of 1/255 of full drive, running_s of the engine in the middle of the pass; a failed pass has no speed.
[[nodiscard]] std::string passes_csv(const std::vector<ShiftRecords>& shifts);

/// {"shifts": [{"file": …, "records": […]}]}: everything, as it stands in the journals.
[[nodiscard]] std::string records_json(const std::vector<ShiftRecords>& shifts);

}  // namespace lapwright
