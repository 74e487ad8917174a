#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>

#include "daemon/store/storage.h"
#include "drivers/access_remedy.h"
#include "drivers/descriptor.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void failed(const fs::path& path, const char* what, int error) {
  const std::string remedy = access_remedy(path, error);
  throw FileLost(path.string() + " can't be " + what + ": " + std::strerror(error) + "; " +
                     (remedy.empty() ? "check that its folder is one, can be written to, and has free space" : remedy),
                 error);
}

/// A sync that failed is not tried again: the kernel calls the pages clean then, and they are lost.
void write_all(const fs::path& path, int flags, const std::string& text) {
  const Descriptor file(::open(path.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC | flags, 0644));
  if (file.number() < 0) failed(path, "opened", errno);
  std::size_t done = 0;
  while (done < text.size()) {
    const ssize_t count = ::write(file.number(), text.data() + done, text.size() - done);
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) failed(path, "written", errno);
    done += static_cast<std::size_t>(count);
  }
  if (::fdatasync(file.number()) != 0) failed(path, "written", errno);
}

}  // namespace

std::optional<std::string> RealStorage::read(const fs::path& path) {
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (file.number() < 0 && (errno == ENOENT || errno == ENOTDIR)) return std::nullopt;
  if (file.number() < 0) failed(path, "opened", errno);
  std::string text;
  std::array<char, 65536> part{};
  for (;;) {
    const ssize_t count = ::read(file.number(), part.data(), part.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) failed(path, "read", errno);
    if (count == 0) return text;
    text.append(part.data(), static_cast<std::size_t>(count));
  }
}

std::vector<std::string> RealStorage::list(const fs::path& folder) {
  std::error_code error;
  std::vector<std::string> names;
  fs::directory_iterator entry(folder, error);
  if (error == std::errc::no_such_file_or_directory || error == std::errc::not_a_directory) return names;
  for (; !error && entry != fs::directory_iterator(); entry.increment(error)) {
    names.push_back(entry->path().filename().string());
  }
  if (error) failed(folder, "listed", error.value());
  std::sort(names.begin(), names.end());
  return names;
}

void RealStorage::make_folder(const fs::path& folder) {
  if (folder.empty() || ::access(folder.c_str(), F_OK) == 0) return;
  make_folder(folder.parent_path());
  if (::mkdir(folder.c_str(), 0755) != 0 && errno != EEXIST) failed(folder, "made", errno);
  sync_folder(folder.parent_path());
}

void RealStorage::write(const fs::path& path, const std::string& text) { write_all(path, O_TRUNC, text); }

void RealStorage::append(const fs::path& path, const std::string& text) { write_all(path, O_APPEND, text); }

void RealStorage::cut(const fs::path& path, std::size_t bytes) {
  const Descriptor file(::open(path.c_str(), O_WRONLY | O_CLOEXEC));
  if (file.number() < 0) failed(path, "opened", errno);
  if (::ftruncate(file.number(), static_cast<off_t>(bytes)) != 0 || ::fsync(file.number()) != 0) {
    failed(path, "cut", errno);
  }
}

void RealStorage::rename(const fs::path& from, const fs::path& to) {
  if (::rename(from.c_str(), to.c_str()) != 0) failed(to, "put in place", errno);
}

void RealStorage::remove(const fs::path& path) {
  if (::unlink(path.c_str()) != 0 && errno != ENOENT) failed(path, "removed", errno);
}

void RealStorage::sync_folder(const fs::path& folder) {
  const fs::path named = folder.empty() ? fs::path(".") : folder;
  const Descriptor opened(::open(named.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (opened.number() < 0 || ::fsync(opened.number()) != 0) failed(named, "written", errno);
}

}  // namespace lapwright
