#include "drivers/access_remedy.h"

#include <grp.h>
#include <pwd.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <optional>
#include <sstream>

namespace lapwright {
namespace {

namespace fs = std::filesystem;

std::string user_name(uid_t user) {
  const passwd* const entry = ::getpwuid(user);
  return entry != nullptr ? entry->pw_name : std::to_string(user);
}

std::string group_name(gid_t group) {
  const struct ::group* const entry = ::getgrgid(group);
  return entry != nullptr ? entry->gr_name : std::to_string(group);
}

struct Nearest {
  fs::path path;
  struct stat info = {};
};

std::optional<Nearest> nearest(fs::path path) {
  for (;;) {
    Nearest found{path, {}};
    if (::stat(path.c_str(), &found.info) == 0) return found;
    const fs::path above = path.has_parent_path() ? path.parent_path() : fs::path(".");
    if (above == path) return std::nullopt;
    path = above;
  }
}

}  // namespace

std::string access_remedy(const fs::path& path, int error) {
  if (error != EACCES && error != EPERM) return {};
  const std::optional<Nearest> found = nearest(path);
  const std::string self = user_name(::geteuid());
  if (!found) return "this program runs as user " + self;
  const std::string group = group_name(found->info.st_gid);
  const std::string command = S_ISCHR(found->info.st_mode) ? "usermod --append --groups " + group + " " + self
                                                           : "chown -R " + self + " " + found->path.string();
  std::ostringstream text;
  text << found->path.string() << " belongs to user " << user_name(found->info.st_uid) << " and group " << group
       << " (mode " << std::oct << (found->info.st_mode & 0777U) << "), and this program runs as user " << self << ": "
       << command << ", as root" << (S_ISCHR(found->info.st_mode) ? ", then log in anew" : "");
  return text.str();
}

}  // namespace lapwright
