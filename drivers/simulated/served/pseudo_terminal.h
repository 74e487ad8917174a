// A pseudo-terminal that stands for a serial device, with a name of one's own that leads to it.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <filesystem>
#include <string>
#include <utility>

namespace lapwright::simulated {

/// Raw from the beginning. Its slave side is kept open, so that the device's end never reads a hang-up when programs
/// come and go; destroying it is unplugging it.
class PseudoTerminal {
 public:
  /// @param name  of a symlink to be made; a symlink that is there already is replaced; empty: none
  /// @throws std::system_error
  explicit PseudoTerminal(const boost::asio::any_io_executor& executor, std::filesystem::path name = {});
  ~PseudoTerminal();
  PseudoTerminal(const PseudoTerminal&) = delete;
  PseudoTerminal& operator=(const PseudoTerminal&) = delete;

  /// The device's end.
  [[nodiscard]] boost::asio::posix::stream_descriptor& end() { return end_; }
  /// The same, for another to own; it has to be closed before this is destroyed.
  [[nodiscard]] boost::asio::posix::stream_descriptor release_end() { return std::move(end_); }
  /// What programs open.
  [[nodiscard]] const std::string& device() const { return device_; }

 private:
  boost::asio::posix::stream_descriptor end_;
  int kept_ = -1;
  std::string device_;
  std::filesystem::path name_;
};

}  // namespace lapwright::simulated
