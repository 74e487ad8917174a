// A recording played to the real drivers: bytes, openings and losses at their recorded instants.
#pragma once

#include <string>
#include <vector>

#include "tests/recordings/case.h"

namespace lapwright::recordings {

struct Replayed {
  std::vector<std::string> protocol;
  /// What the drivers sent otherwise than the recording says; only looked for in true recordings.
  std::vector<std::string> sent_otherwise;
};

[[nodiscard]] Replayed replay(const Case& given);

}  // namespace lapwright::recordings
