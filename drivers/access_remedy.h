// Why a file or device may not be used, and the command that mends it.
#pragma once

#include <filesystem>
#include <string>

namespace lapwright {

/// For EACCES and EPERM: who owns what is in the way, as whom this program runs, and what to type. The path itself, or
/// the nearest folder above it that is there. Empty where permissions are not the reason.
/// @param error  an errno
[[nodiscard]] std::string access_remedy(const std::filesystem::path& path, int error);

}  // namespace lapwright
