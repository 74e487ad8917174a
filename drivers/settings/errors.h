// All that is wrong with one settings file, thrown at once.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

namespace lapwright::settings {

/// One line for each mistake: `file:line: /json/pointer: what is wrong; what to do`. `what()` joins them with newlines.
class Errors : public std::runtime_error {
 public:
  explicit Errors(std::vector<std::string> lines);
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }

 private:
  std::vector<std::string> lines_;
};

}  // namespace lapwright::settings
