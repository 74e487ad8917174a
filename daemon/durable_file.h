// Files that are whole and on the disk before anybody relies on them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/store/file_lost.h"

namespace lapwright {

/// Written beside its name, synced, renamed, and the folder synced: after a power cut there is the old text or the new
/// one, never a part. Makes the folder. @param what  "the report", for messages @throws FileLost
void write_durably(const std::filesystem::path& path, const std::string& text, const std::string& what);

/// Synced as well. What is not there needs no removing. @throws FileLost
void remove_durably(const std::filesystem::path& path, const std::string& what);

/// Tries to keep a file in each folder that has a name: empty, or what is in the way.
[[nodiscard]] std::optional<FileLost> trouble_of_storage(const std::vector<std::filesystem::path>& folders);

}  // namespace lapwright
