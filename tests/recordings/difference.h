// Two texts side by side, for people: what is missing, what is new, and a little of what stands around it.
#pragma once

#include <string>
#include <vector>

namespace lapwright::recordings {

/// Empty when they are equal. `-` stands before lines of the first alone, `+` before lines of the second alone.
[[nodiscard]] std::string difference(const std::vector<std::string>& wanted, const std::vector<std::string>& got);
[[nodiscard]] std::vector<std::string> lines_of(const std::string& text);
[[nodiscard]] std::string text_of(const std::vector<std::string>& lines);

}  // namespace lapwright::recordings
