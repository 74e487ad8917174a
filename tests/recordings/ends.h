// The other ends of the wires while a recording is made: the board's firmware, or the simulated board and station.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "tests/recordings/session.h"

namespace lapwright::recordings {

class Ends {
 public:
  virtual ~Ends() = default;
  virtual void opened(const std::string& link) = 0;
  virtual void hear(const std::string& link, const std::string& bytes) = 0;
  /// So much time passes there.
  virtual void pass(Duration length) = 0;
  /// What was said since the last time.
  virtual std::string take(const std::string& link) = 0;
  /// `gate 1 1` (blocked), `current 300`, `button 1`, `reset` …
  virtual void obey(const std::vector<std::string>& words) = 0;
};

/// @throws std::runtime_error
[[nodiscard]] std::unique_ptr<Ends> make_ends(const Case& given, Session& session);

}  // namespace lapwright::recordings
