// avr_board [ELF]: the real firmware in the simulated chip, paced to the wall clock, its serial line on a
// pseudo-terminal.
//
// The first line on stdout is `pty PATH`; then `relay 1` and `relay 0` as the relay closes and opens. On stdin, one a
// line, until its end or `quit`: the words of pin_words.h.
// Time that the machine did not grant is made up for: the board's clock runs no slower than the wall's.
#include <fcntl.h>
#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <iostream>
#include <system_error>

#include "tests/firmware/host.h"
#include "tests/firmware/pin_words.h"

namespace lapwright::firmware {
namespace {

constexpr int step_ms = 1;
constexpr std::size_t most_unread_bytes = 65536;

int checked(int result, const char* what) {
  if (result < 0) throw std::system_error(errno, std::generic_category(), what);
  return result;
}

/// A pseudo-terminal that is raw from its creation, and whose other end stays open when its user closes it.
class Pty {
 public:
  Pty() : master_(checked(posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC), "posix_openpt")) {
    checked(grantpt(master_), "grantpt");
    checked(unlockpt(master_), "unlockpt");
    path_ = ptsname(master_);
    slave_ = checked(open(path_.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC), "open the pseudo-terminal");
    termios settings{};
    checked(tcgetattr(slave_, &settings), "tcgetattr");
    cfmakeraw(&settings);
    checked(tcsetattr(slave_, TCSANOW, &settings), "tcsetattr");
  }
  ~Pty() {
    close(slave_);
    close(master_);
  }
  Pty(const Pty&) = delete;
  Pty& operator=(const Pty&) = delete;

  const std::string& path() const { return path_; }

  std::string read_some() const {
    std::array<char, 256> bytes{};
    const ssize_t count = read(master_, bytes.data(), bytes.size());
    return count > 0 ? std::string(bytes.data(), static_cast<std::size_t>(count)) : std::string();
  }

  /// What nobody reads is lost, as on a wire; the last part is kept for a while.
  void write_byte(char byte) {
    if (unsent_.size() < most_unread_bytes) unsent_ += byte;
    const ssize_t count = write(master_, unsent_.data(), unsent_.size());
    if (count > 0) unsent_.erase(0, static_cast<std::size_t>(count));
  }

 private:
  int master_;
  int slave_ = -1;
  std::string path_;
  std::string unsent_;
};

/// False for `quit`.
bool obey(VirtualBoard& board, const std::string& line) {
  if (line == "quit") return false;
  if (!obey_pin_word(board, line)) std::cerr << "not understood: " << line << "\n";
  return true;
}

/// Waits a step for stdin and acts on its whole lines. False at its end.
bool take_commands(VirtualBoard& board, std::string& pending) {
  pollfd input{STDIN_FILENO, POLLIN, 0};
  if (poll(&input, 1, step_ms) <= 0) return true;
  std::array<char, 1024> bytes{};
  const ssize_t count = read(STDIN_FILENO, bytes.data(), bytes.size());
  if (count <= 0) return false;
  pending.append(bytes.data(), static_cast<std::size_t>(count));
  for (std::size_t end; (end = pending.find('\n')) != std::string::npos; pending.erase(0, end + 1)) {
    if (!obey(board, pending.substr(0, end))) return false;
  }
  return true;
}

void run(const std::string& elf) {
  Pty pty;
  VirtualBoard board(elf);
  board.on_byte = [&](char byte) { pty.write_byte(byte); };
  std::cout << "pty " << pty.path() << std::endl;
  const auto begun = std::chrono::steady_clock::now();
  std::string commands;
  while (take_commands(board, commands)) {
    if (!board.is_sending()) board.send(pty.read_some());
    const auto passed = std::chrono::steady_clock::now() - begun;
    board.run_to(static_cast<std::uint64_t>(std::chrono::nanoseconds(passed).count()) * cycles_per_us / 1000);
    for (const RelayChange& change : board.relay_changes) std::cout << "relay " << change.closed << std::endl;
    board.relay_changes.clear();
    board.lines.clear();
  }
}

}  // namespace
}  // namespace lapwright::firmware

int main(int count, char** arguments) {
  try {
    lapwright::firmware::run(count > 1 ? arguments[1] : lapwright::firmware::release_elf);
  } catch (const std::exception& error) {
    std::cerr << "avr_board: " << error.what() << "\n";
    return 1;
  }
  return 0;
}
