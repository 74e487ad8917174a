// What the queue's commands send to the service: one JSON line each, as daemon/queue_desk.h reads it.
#pragma once

#include <string>
#include <vector>

#include "daemon/work.h"

namespace lapwright {

/// @param engines  as the service knows them; names of files may be relative: the service stands elsewhere
[[nodiscard]] std::string add_request(const std::vector<std::string>& engines, const std::string& sheet, Work work);
[[nodiscard]] std::string list_request();
[[nodiscard]] std::string move_request(int entry, int place);
[[nodiscard]] std::string cancel_request(int entry);
[[nodiscard]] std::string pause_request(bool now);
[[nodiscard]] std::string resume_request();
[[nodiscard]] std::string ready_request(const std::string& engine);

}  // namespace lapwright
