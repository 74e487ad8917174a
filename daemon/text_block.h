// Small helpers for plain text: wrapping a paragraph, a line of dashes.
#pragma once

#include <string>
#include <string_view>

namespace lapwright {

inline constexpr int text_columns = 80;

/// Breaks at spaces so that no line is longer than `text_columns` letters; `first` stands before the first line, later
/// ones are indented by as many spaces. Ends with a newline.
[[nodiscard]] std::string wrapped(std::string_view first, std::string_view text);

/// Letters of UTF-8 text, each taken as one column.
[[nodiscard]] int letters(std::string_view text);

}  // namespace lapwright
