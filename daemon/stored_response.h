// The passes of an engine's latest tune, kept in its document for the next session with it.
#pragma once

#include <optional>

#include "daemon/engine_file.h"

namespace lapwright {

/// One line of text for each pass: drive, direction, speed, running time, uncertainty, sessions ago.
[[nodiscard]] Record response_json(const StoredResponse& response);
/// @throws Record::exception, std::invalid_argument
[[nodiscard]] StoredResponse read_response(const Record& json);

/// What the document knows of the engine as it is wanted again: every pass one session older than it was. Empty: no
/// tune has left any, or not of these speeds, this trap and a whole table.
[[nodiscard]] std::optional<EarlierSession> earlier_session(const Job& job, const KnownEngine& known);

}  // namespace lapwright
