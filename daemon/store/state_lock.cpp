#include "daemon/store/state_lock.h"

#include <fcntl.h>
#include <sys/file.h>

#include <cerrno>
#include <cstring>

#include "daemon/store/storage.h"
#include "drivers/access_remedy.h"
#include "drivers/links/open_serial.h"

namespace lapwright {
namespace {

int open_lock(const std::filesystem::path& folder) {
  RealStorage().make_folder(folder);
  return ::open((folder / "lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
}

}  // namespace

StateLock::StateLock(const std::filesystem::path& folder) : file_(open_lock(folder)) {
  if (file_.number() >= 0 && ::flock(file_.number(), LOCK_EX | LOCK_NB) == 0) return;
  const int error = errno;
  if (error != EWOULDBLOCK) {
    throw FileLost((folder / "lock").string() + " can't be locked: " + std::strerror(error) + "; " +
                       access_remedy(folder / "lock", error),
                   error);
  }
  const std::string holder = holder_of_lock(file_.number());
  throw StateInUse("the state folder " + folder.string() + " is in use by " +
                   (holder.empty() ? "another program" : "process " + holder) +
                   "; stop that first, or give this configuration a \"state\" of its own");
}

}  // namespace lapwright
