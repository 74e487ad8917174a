// Documents that are whole and on the disk before anybody relies on them.
#pragma once

#include <optional>
#include <vector>

#include "daemon/store/storage.h"

namespace lapwright {

/// Written beside its name, synced, renamed, and the folder synced: after a power cut there is the old text or the new
/// one, never a part. Makes the folder. @throws FileLost
void write_durably(Storage& storage, const std::filesystem::path& path, const std::string& text);

/// Synced as well. What is not there needs no removing. @throws FileLost
void remove_durably(Storage& storage, const std::filesystem::path& path);

/// Tries to keep a file in each folder that has a name: empty, or what is in the way.
[[nodiscard]] std::optional<FileLost> trouble_of_storage(Storage& storage,
                                                         const std::vector<std::filesystem::path>& folders);

}  // namespace lapwright
