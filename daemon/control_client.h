// The other end of the control socket: what status, watch and halt print.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace lapwright {

/// Each returns an ExitCode; answers go to stdout, complaints to stderr.
int ask_status(const std::filesystem::path& socket, bool as_json);
int ask_watch(const std::filesystem::path& socket);
int ask_halt(const std::filesystem::path& socket);
/// exit_needs_person when nothing was cleared.
int ask_clear(const std::filesystem::path& socket);
/// The check before a run; exit_needs_person when something is not in order.
int ask_check(const std::filesystem::path& socket, bool json);

/// Anything of daemon/queue_desk.h; exit_needs_person when it was not done. @param request  one JSON line
int ask_queue(const std::filesystem::path& socket, const std::string& request, bool json);

/// The queue as a person reads it.
[[nodiscard]] std::string queue_text(std::string_view json);
/// A status document as a person reads it.
[[nodiscard]] std::string status_text(std::string_view json);
/// The check before a run as a person reads it.
[[nodiscard]] std::string check_text(std::string_view json);
/// One event of `watch` as a line; empty for those that people don't need.
[[nodiscard]] std::string event_text(std::string_view json);

}  // namespace lapwright
