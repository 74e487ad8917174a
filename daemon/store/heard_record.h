// What the track told a tune, as records of the journal. Numbers come back bit by bit, so that a tune that goes on
// decides as the one did that was broken off.
#pragma once

#include <optional>

#include "daemon/store/journal_line.h"
#include "tuning/rig.h"
#include "tuning/transcript.h"

namespace lapwright {

[[nodiscard]] Record heard_record(const Heard& heard);
/// Empty where the record is of something else, or not as `heard_record` makes them.
[[nodiscard]] std::optional<Heard> read_heard(const Record& record);

[[nodiscard]] std::string_view code(Direction direction);  ///< "forward", "reverse"
[[nodiscard]] std::string_view code(CvWriteReply reply);   ///< "silent", "confirmed", "refused", "unsupported"
/// @throws std::invalid_argument
[[nodiscard]] CvWriteReply read_reply(std::string_view word);
[[nodiscard]] Direction read_direction(std::string_view word);  ///< @throws std::invalid_argument

}  // namespace lapwright
