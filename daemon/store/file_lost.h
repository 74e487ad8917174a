// What is thrown when something can't be kept or read back.
#pragma once

#include <stdexcept>
#include <string>

namespace lapwright {

/// A file could not be written or read; the text names it, the cause and what to look at.
class FileLost : public std::runtime_error {
 public:
  /// @param error  the errno; 0: what stands in the file is the trouble
  explicit FileLost(const std::string& text, int error = 0) : std::runtime_error(text), error_(error) {}
  [[nodiscard]] int error() const { return error_; }

 private:
  int error_;
};

}  // namespace lapwright
