// One line of the check before a run: what was looked at, whether it is in order, and what to do if it is not.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace lapwright {

struct CheckLine {
  std::string what;
  std::optional<bool> good;  ///< empty: can't be told now, or is not there; that alone hinders nothing
  std::string text;
};

using CheckLines = std::vector<CheckLine>;

/// "gate east: something stands in the beam; …" of the first line that is not in order; empty if all are.
[[nodiscard]] inline std::string first_trouble(const CheckLines& lines) {
  for (const CheckLine& line : lines) {
    if (line.good == false) return line.what + ": " + line.text;
  }
  return "";
}

}  // namespace lapwright
