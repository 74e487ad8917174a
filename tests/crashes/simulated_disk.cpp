#include "tests/crashes/simulated_disk.h"

#include <algorithm>
#include <cstring>

namespace lapwright::crashes {
namespace fs = std::filesystem;

void SimulatedDisk::apply(const Change& change, Names& names) {
  if (!change.taken.empty()) names.erase(change.taken);
  if (!change.given.empty()) names[change.given] = change.file;
}

void SimulatedDisk::begin(const fs::path& path) {
  if (dead_) throw PowerCut();
  const int number = operations_++;
  dies_now_ = power_cut_at == number;
  fails_now_ = fails_at && number >= *fails_at;
  if (dies_now_) dead_ = true;
  if (!fails_now_) return;
  // Half of the time something of it has happened all the same.
  if (random_.chance(0.5)) throw FileLost(path.string() + " can't be written: " + std::strerror(error), error);
}

void SimulatedDisk::note(Change change) {
  apply(change, names_);
  changes_.push_back(std::move(change));
}

int SimulatedDisk::file_at(const fs::path& path) {
  if (const auto found = names_.find(path); found != names_.end()) return found->second;
  files_.emplace_back();
  const int file = static_cast<int>(files_.size()) - 1;
  note({{}, path, file});
  return file;
}

/// The file's text becomes `after`, which begins with what is kept of it; all of it, or a part where something happens.
void SimulatedDisk::put(const fs::path& path, int file, const std::string& after) {
  std::string& text = files_[static_cast<std::size_t>(file)];
  if (!dies_now_ && !fails_now_) {
    text = after;
    return;
  }
  const std::size_t kept = std::min(text.size(), after.size());
  const auto more = static_cast<std::size_t>(random_.uniform() * static_cast<double>(after.size() - kept + 1));
  std::string part = after.substr(0, kept + more);
  // A file system may have made room before it had the bytes.
  if (dies_now_ && random_.chance(0.3)) part.resize(after.size(), '\0');
  if (!random_.chance(0.2)) text = part;  // else nothing of it has arrived
  if (dies_now_) throw PowerCut();
  throw FileLost(path.string() + " can't be written: " + std::strerror(error), error);
}

void SimulatedDisk::restart() {
  names_ = synced_;
  for (const Change& change : changes_) {
    if (random_.chance(0.5)) apply(change, names_);
  }
  changes_.clear();
  synced_ = names_;
  dead_ = dies_now_ = fails_now_ = false;
  power_cut_at.reset();
  fails_at.reset();
}

std::optional<std::string> SimulatedDisk::read(const fs::path& path) {
  if (dead_) throw PowerCut();
  const auto found = names_.find(path);
  if (found == names_.end()) return std::nullopt;
  return files_[static_cast<std::size_t>(found->second)];
}

std::vector<std::string> SimulatedDisk::list(const fs::path& folder) {
  if (dead_) throw PowerCut();
  std::vector<std::string> result;
  for (const auto& [path, file] : names_) {
    if (path.parent_path() == folder) result.push_back(path.filename().string());
  }
  return result;
}

void SimulatedDisk::make_folder(const fs::path& folder) {
  begin(folder);
  if (dies_now_) throw PowerCut();
}

void SimulatedDisk::write(const fs::path& path, const std::string& text) {
  begin(path);
  const int file = file_at(path);
  files_[static_cast<std::size_t>(file)].clear();
  put(path, file, text);
}

void SimulatedDisk::append(const fs::path& path, const std::string& text) {
  begin(path);
  const int file = file_at(path);
  put(path, file, files_[static_cast<std::size_t>(file)] + text);
}

void SimulatedDisk::cut(const fs::path& path, std::size_t bytes) {
  begin(path);
  std::string& text = files_[static_cast<std::size_t>(file_at(path))];
  if (!(dies_now_ || fails_now_) || random_.chance(0.5)) text.resize(std::min(bytes, text.size()));
  if (dies_now_) throw PowerCut();
  if (fails_now_) throw FileLost(path.string() + " can't be cut", error);
}

void SimulatedDisk::rename(const fs::path& from, const fs::path& to) {
  begin(from);
  if (!(dies_now_ || fails_now_) || random_.chance(0.5)) note({from, to, names_.at(from)});
  if (dies_now_) throw PowerCut();
  if (fails_now_) throw FileLost(to.string() + " can't be put in place", error);
}

void SimulatedDisk::remove(const fs::path& path) {
  begin(path);
  if (!(dies_now_ || fails_now_) || random_.chance(0.5)) note({path, {}, 0});
  if (dies_now_) throw PowerCut();
  if (fails_now_) throw FileLost(path.string() + " can't be removed", error);
}

void SimulatedDisk::sync_folder(const fs::path& folder) {
  begin(folder);
  if (dies_now_) throw PowerCut();  // before it had any effect: chance decides in `restart`
  if (fails_now_) throw FileLost(folder.string() + " can't be written", error);
  const auto in_it = [&](const Change& change) {
    return (change.given.empty() ? change.taken : change.given).parent_path() == folder;
  };
  for (const Change& change : changes_) {
    if (in_it(change)) apply(change, synced_);
  }
  std::erase_if(changes_, in_it);
}

}  // namespace lapwright::crashes
