#include "daemon/durable_file.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>

#include "drivers/access_remedy.h"
#include "drivers/descriptor.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void lost(const fs::path& path, const std::string& what, int error) {
  const std::string remedy = access_remedy(path, error);
  throw FileLost(what + " " + path.string() + " can't be written: " + std::strerror(error) + "; " +
                     (remedy.empty() ? "check that its folder is one, can be written to, and has free space" : remedy),
                 error);
}

fs::path folder_of(const fs::path& path) {
  const fs::path parent = path.parent_path();
  return parent.empty() ? fs::path(".") : parent;
}

void sync_folder(const fs::path& path, const std::string& what) {
  const Descriptor folder(::open(folder_of(path).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (folder.number() < 0 || ::fsync(folder.number()) != 0) lost(path, what, errno);
}

}  // namespace

void write_durably(const fs::path& path, const std::string& text, const std::string& what) {
  std::error_code error;
  fs::create_directories(folder_of(path), error);
  if (error) lost(path, what, error.value());
  const fs::path beside = path.string() + ".new";
  {
    const Descriptor file(::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
    if (file.number() < 0) lost(path, what, errno);
    std::size_t done = 0;
    while (done < text.size()) {
      const ssize_t count = ::write(file.number(), text.data() + done, text.size() - done);
      if (count < 0 && errno == EINTR) continue;
      if (count < 0) lost(path, what, errno);
      done += static_cast<std::size_t>(count);
    }
    if (::fsync(file.number()) != 0) lost(path, what, errno);
  }
  if (::rename(beside.c_str(), path.c_str()) != 0) lost(path, what, errno);
  sync_folder(path, what);
}

void remove_durably(const fs::path& path, const std::string& what) {
  if (::unlink(path.c_str()) != 0) {
    if (errno == ENOENT) return;
    lost(path, what, errno);
  }
  sync_folder(path, what);
}

std::optional<FileLost> trouble_of_storage(const std::vector<fs::path>& folders) {
  const std::string something(4096, '.');  // an empty file needs no room
  try {
    for (const fs::path& folder : folders) {
      if (folder.empty()) continue;
      write_durably(folder / ".trial", something, "a file for trial");
      remove_durably(folder / ".trial", "a file for trial");
    }
  } catch (const FileLost& lost) {
    return lost;
  }
  return std::nullopt;
}

}  // namespace lapwright
