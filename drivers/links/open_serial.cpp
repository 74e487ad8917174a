#include "drivers/links/open_serial.h"

#include <fcntl.h>
#include <libserialport.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>

#include "drivers/access_remedy.h"
#include "drivers/descriptor.h"
#include "drivers/links/link_errors.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

struct PortCloser {
  void operator()(sp_port* port) const {
    sp_close(port);
    sp_free_port(port);
  }
};
using Port = std::unique_ptr<sp_port, PortCloser>;

[[noreturn]] void fail(const std::string& device, const std::string& what, int error) {
  std::string text = device + ": " + what + ": " + std::strerror(error);
  if (error == EACCES || error == EPERM) {
    text += "; " + access_remedy(device, error);
  } else if (error == ENOENT || error == ENXIO || error == ENODEV) {
    text += "; plug it in, or correct the name in the configuration (names in /dev/serial/by-id stay the same)";
  }
  throw LinkDown(text);
}

bool is_pseudo_terminal(const std::string& path) {
  struct stat info = {};
  if (::stat(path.c_str(), &info) != 0) fail(path, "can't be found", errno);
  // The range of Unix98 pseudo-terminals (Linux Documentation/admin-guide/devices.txt, majors 136-143).
  return S_ISCHR(info.st_mode) && major(info.st_rdev) >= 136 && major(info.st_rdev) <= 143;
}

/// libserialport refuses pseudo-terminals: they have no entry in /sys.
int open_pseudo_terminal(const std::string& path) {
  const int number = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (number < 0) fail(path, "can't be opened", errno);
  return number;
}

int open_port(const std::string& path, int baud) {
  sp_port* found = nullptr;
  if (sp_get_port_by_name(path.c_str(), &found) != SP_OK) {
    throw LinkDown(path + " is not a serial port; correct the name in the configuration");
  }
  const Port port(found);
  if (sp_open(port.get(), SP_MODE_READ_WRITE) != SP_OK) fail(path, "can't be opened", sp_last_error_code());
  const bool set = sp_set_baudrate(port.get(), baud) == SP_OK && sp_set_bits(port.get(), 8) == SP_OK &&
                   sp_set_parity(port.get(), SP_PARITY_NONE) == SP_OK && sp_set_stopbits(port.get(), 1) == SP_OK;
  if (!set) fail(path, "does not take " + std::to_string(baud) + " baud, 8N1", sp_last_error_code());
  int handle = -1;
  sp_get_port_handle(port.get(), &handle);
  // A descriptor of our own: libserialport 0.1.1 leaves its one open in children, and Asio closes the one it is given.
  const int own = ::fcntl(handle, F_DUPFD_CLOEXEC, 0);
  if (own < 0) fail(path, "can't be opened", errno);
  return own;
}

void lock(const std::string& device, int number, bool pseudo) {
  if (::flock(number, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK) fail(device, "can't be locked", errno);
    const std::string holder = holder_of_lock(number);
    throw LinkInUse(device + " is in use by " + (holder.empty() ? "another program" : "process " + holder) +
                    "; stop that first");
  }
  // For programs that don't lock. On a pseudo-terminal the mark would outlive a killed holder.
  if (!pseudo) ::ioctl(number, TIOCEXCL);
}

void make_raw(const std::string& device, int number, bool hardware_flow) {
  termios mode = {};
  if (::tcgetattr(number, &mode) != 0) fail(device, "is not a serial line", errno);
  ::cfmakeraw(&mode);
  mode.c_cflag |= CLOCAL | CREAD;
  mode.c_cflag &= ~static_cast<tcflag_t>(HUPCL);  // closing must not reset the board
  if (hardware_flow) {
    mode.c_cflag |= CRTSCTS;  // libserialport 0.1.1 says that it sets it and does not
  } else {
    mode.c_cflag &= ~static_cast<tcflag_t>(CRTSCTS);
  }
  if (::tcsetattr(number, TCSANOW, &mode) != 0) fail(device, "can't be set up", errno);
  ::tcflush(number, TCIOFLUSH);
}

}  // namespace

std::string holder_of_lock(int descriptor) {
  struct stat info = {};
  if (::fstat(descriptor, &info) != 0) return "";
  // Each line: number, kind, nature, access, pid, major:minor:inode in hex:hex:decimal, range (proc(5)).
  std::ostringstream wanted;
  wanted << std::hex;
  const auto two_digits = [&wanted](unsigned value) {
    wanted.width(2);
    wanted.fill('0');
    wanted << value;
  };
  two_digits(major(info.st_dev));
  wanted << ':';
  two_digits(minor(info.st_dev));
  wanted << ':' << std::dec << info.st_ino;
  std::ifstream locks("/proc/locks");
  for (std::string line; std::getline(locks, line);) {
    std::istringstream fields(line);
    std::string number, kind, nature, access, process, place;
    fields >> number >> kind >> nature >> access >> process >> place;
    if (kind != "FLOCK" || place != wanted.str()) continue;
    std::ifstream named("/proc/" + process + "/comm");
    std::string name;
    std::getline(named, name);
    if (!name.empty()) process.append(" (").append(name).append(")");
    return process;
  }
  return "";
}

asio::posix::stream_descriptor open_serial(const asio::any_io_executor& executor, const SerialAddress& address) {
  std::error_code missing;
  const std::string path = std::filesystem::canonical(address.device, missing).string();
  if (missing) fail(address.device, "can't be found", missing.value());
  const bool pseudo = is_pseudo_terminal(path);
  Descriptor line(pseudo ? open_pseudo_terminal(path) : open_port(path, address.baud));
  lock(address.device, line.number(), pseudo);
  make_raw(address.device, line.number(), address.hardware_flow);
  asio::posix::stream_descriptor stream(executor, line.number());
  line.release();
  return stream;
}

}  // namespace lapwright
