// Source files as the house test sees them: found by folder, with comments and literals blanked out.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright::house {

struct SourceFile {
  std::string name;  ///< from the repository root, with '/'
  std::string text;

  [[nodiscard]] bool is_header() const { return name.ends_with(".h"); }
  [[nodiscard]] bool is_in(std::string_view folder) const { return name.starts_with(std::string(folder) + "/"); }
};

/// All *.h and *.cpp below the folders of the repository, by name.
[[nodiscard]] std::vector<SourceFile> source_files(const std::filesystem::path& top,
                                                   const std::vector<std::string>& folders);

/// Same length and lines, but comments, preprocessor lines and the insides of string and character literals are blank.
[[nodiscard]] std::string code_only(std::string_view text);

/// The paths of `#include "…"` and `#include <…>`, in order.
[[nodiscard]] std::vector<std::string> includes(std::string_view text);

/// How often the text holds `word` as a word of its own; it may consist of several, such as "steady_clock::now".
[[nodiscard]] std::size_t count_word(std::string_view text, std::string_view word);

[[nodiscard]] std::vector<std::string> lines(std::string_view text);

/// The text opens with `// `, and its first comment ends as a sentence does.
[[nodiscard]] bool opens_with_a_sentence(std::string_view text);

}  // namespace lapwright::house
