// Completion of the command line in an interactive shell, made from the commands themselves: it can't go out of date.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/cli_app.h"

namespace lapwright {

enum class Shell : std::uint8_t { bash, zsh, fish };

/// @throws std::invalid_argument  where no such shell is known
[[nodiscard]] Shell shell_named(std::string_view name);

/// One script for several programs, to be sourced, or put where the shell looks for such scripts.
/// @param programs  the root of each, at least one; the script's functions are named after the first
[[nodiscard]] std::string completion_script(Shell shell, const std::vector<const CLI::App*>& programs);

}  // namespace lapwright
