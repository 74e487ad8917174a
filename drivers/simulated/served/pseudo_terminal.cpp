#include "drivers/simulated/served/pseudo_terminal.h"

#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>

namespace lapwright::simulated {
namespace {

[[noreturn]] void fail(const std::string& what) { throw std::system_error(errno, std::system_category(), what); }

int open_master() {
  const int master = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
  if (master < 0) fail("no pseudo-terminal can be had");
  if (::grantpt(master) != 0 || ::unlockpt(master) != 0) {
    ::close(master);
    fail("the pseudo-terminal can't be unlocked");
  }
  return master;
}

}  // namespace

PseudoTerminal::PseudoTerminal(const boost::asio::any_io_executor& executor, std::filesystem::path name)
    : end_(executor, open_master()), name_(std::move(name)) {
  std::array<char, 128> slave{};
  if (::ptsname_r(end_.native_handle(), slave.data(), slave.size()) != 0) fail("the pseudo-terminal has no name");
  device_ = slave.data();
  kept_ = ::open(slave.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (kept_ < 0) fail(device_ + " can't be opened");
  termios mode = {};
  ::tcgetattr(kept_, &mode);
  ::cfmakeraw(&mode);  // it would echo what it is sent, and turn line ends
  ::tcsetattr(kept_, TCSANOW, &mode);
  if (name_.empty()) return;
  std::error_code ignored;  // whatever stood there is not there any more, or the next call says so
  if (std::filesystem::is_symlink(name_, ignored)) std::filesystem::remove(name_, ignored);
  std::filesystem::create_symlink(device_, name_);
}

PseudoTerminal::~PseudoTerminal() {
  ::close(kept_);
  std::error_code ignored;  // another may have taken the name since
  if (!name_.empty() && std::filesystem::read_symlink(name_, ignored) == device_) {
    std::filesystem::remove(name_, ignored);
  }
}

}  // namespace lapwright::simulated
