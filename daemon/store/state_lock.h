// One service for one state folder: two would write over each other's journal.
#pragma once

#include <filesystem>
#include <stdexcept>

#include "drivers/descriptor.h"

namespace lapwright {

/// Another program holds the folder; the text names it.
class StateInUse : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Holds "lock" in the folder as long as it lives; the file stays, and a killed holder holds nothing.
class StateLock {
 public:
  /// Makes the folder. @throws StateInUse, FileLost
  explicit StateLock(const std::filesystem::path& folder);

 private:
  Descriptor file_;
};

}  // namespace lapwright
