#include "daemon/control_path.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <string>

namespace lapwright {
namespace {

constexpr int backlog = 8;

}  // namespace

ControlPath::ControlPath(std::filesystem::path path) : path_(std::move(path)) {
  try {
    take_lock();
    clear_stale();
    listen();
  } catch (const std::runtime_error&) {
    if (listener_ >= 0) ::close(listener_);
    if (lock_ >= 0) ::close(lock_);
    throw;
  }
}

ControlPath::~ControlPath() {
  remove();
  if (listener_ >= 0) ::close(listener_);
  if (lock_ >= 0) ::close(lock_);
}

void ControlPath::trouble(const char* what, int error, const char* remedy) const {
  throw SocketTrouble("control socket " + path_.string() + ": " + what + ": " + std::strerror(error) + "; " + remedy);
}

void ControlPath::take_lock() {
  const std::string name = path_.string() + ".lock";
  lock_ = ::open(name.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (lock_ < 0)
    trouble("no lock file can be made beside it", errno, "make its folder, or choose another control_socket");
  if (::flock(lock_, LOCK_EX | LOCK_NB) == 0) return;
  if (errno != EWOULDBLOCK) trouble("its lock file can't be locked", errno, "choose another control_socket");
  throw SocketInUse("control socket " + path_.string() +
                    " is in use by another service; stop that one, or choose another control_socket");
}

void ControlPath::clear_stale() const {
  struct stat found {};
  if (::lstat(path_.c_str(), &found) != 0) {
    if (errno == ENOENT) return;
    trouble("can't be looked at", errno, "check its folder's permissions");
  }
  if (!S_ISSOCK(found.st_mode) || found.st_uid != ::geteuid()) {
    trouble("something else is there", EEXIST, "remove it by hand, or choose another control_socket");
  }
  // We hold the lock, so nobody listens: a service that died left it.
  if (::unlink(path_.c_str()) != 0) trouble("an old socket can't be removed", errno, "remove it by hand");
}

void ControlPath::listen() {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  const std::string name = path_.string();
  if (name.size() >= sizeof address.sun_path) trouble("the path is too long", ENAMETOOLONG, "choose a shorter one");
  std::memcpy(address.sun_path, name.c_str(), name.size() + 1);
  listener_ = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (listener_ < 0) trouble("no socket can be made", errno, "check the limit of open files");
  const mode_t before = ::umask(0177);  // the file is born with mode 0600: nobody else ever gets in between
  const int bound = ::bind(listener_, reinterpret_cast<const sockaddr*>(&address), sizeof address);
  const int error = errno;
  ::umask(before);
  if (bound != 0) trouble("can't be made", error, "check its folder's permissions");
  bound_ = true;
  if (::listen(listener_, backlog) != 0) trouble("can't listen", errno, "choose another control_socket");
}

int ControlPath::release_listener() {
  const int descriptor = listener_;
  listener_ = -1;
  return descriptor;
}

void ControlPath::remove() {
  if (bound_) ::unlink(path_.c_str());
  bound_ = false;
}

}  // namespace lapwright
