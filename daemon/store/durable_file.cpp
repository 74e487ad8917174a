#include "daemon/store/durable_file.h"

namespace lapwright {
namespace fs = std::filesystem;

void write_durably(Storage& storage, const fs::path& path, const std::string& text) {
  storage.make_folder(path.parent_path());
  const fs::path beside = path.string() + ".new";
  storage.write(beside, text);
  storage.rename(beside, path);
  storage.sync_folder(path.parent_path());
}

void remove_durably(Storage& storage, const fs::path& path) {
  storage.remove(path);
  storage.sync_folder(path.parent_path());
}

std::optional<FileLost> trouble_of_storage(Storage& storage, const std::vector<fs::path>& folders) {
  const std::string something(4096, '.');  // an empty file needs no room
  try {
    for (const fs::path& folder : folders) {
      if (folder.empty()) continue;
      write_durably(storage, folder / ".trial", something);
      remove_durably(storage, folder / ".trial");
    }
  } catch (const FileLost& lost) {
    return lost;
  }
  return std::nullopt;
}

}  // namespace lapwright
