// The control socket's place in the file system: for its owner only, one service at a time, cleaned up behind us.
#pragma once

#include <filesystem>
#include <stdexcept>

namespace lapwright {

/// Another service listens there.
class SocketInUse : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};
/// The socket can't be made; the text names the path and what to do.
class SocketTrouble : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// A listening Unix stream socket of mode 0600. A socket file that a dead service left behind is replaced; anything
/// else at the path is left alone. A lock file beside it keeps two services that start together apart.
class ControlPath {
 public:
  /// @throws SocketInUse, SocketTrouble
  explicit ControlPath(std::filesystem::path path);
  ~ControlPath();
  ControlPath(const ControlPath&) = delete;
  ControlPath& operator=(const ControlPath&) = delete;

  /// The listening descriptor, for the caller to own from now on.
  [[nodiscard]] int release_listener();
  /// Removes the socket file.
  void remove();

 private:
  void take_lock();
  void clear_stale() const;
  void listen();
  [[noreturn]] void trouble(const char* what, int error, const char* remedy) const;

  std::filesystem::path path_;
  int lock_ = -1;
  int listener_ = -1;
  bool bound_ = false;
};

}  // namespace lapwright
