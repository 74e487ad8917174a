#include "tests/unit/source_text.h"

#include <algorithm>
#include <cctype>
#include <fstream>
#include <sstream>

namespace lapwright::house {
namespace fs = std::filesystem;
namespace {

constexpr std::size_t nowhere = std::string_view::npos;

bool is_word(char letter) { return std::isalnum(static_cast<unsigned char>(letter)) != 0 || letter == '_'; }

/// Blanks what is no code, piece by piece.
class Blanker {
 public:
  explicit Blanker(std::string_view text) : text_(text), code_(text) {}

  std::string code() {
    while (at_ < text_.size()) {
      if (starts("//")) {
        blank_until(find("\n"));
      } else if (starts("/*")) {
        blank_until(after("*/", at_ + 2));
      } else if (text_[at_] == '#' && line_is_blank_so_far()) {
        blank_until(end_of_directive());
      } else if (starts("R\"") && !follows_a_word()) {
        const std::size_t open = find("(");
        const std::string close = ")" + std::string(text_.substr(at_ + 2, open - at_ - 2)) + "\"";
        blank_until(after(close, open));
      } else if (text_[at_] == '"' || (text_[at_] == '\'' && !follows_a_word())) {  // 1'000 is no character
        blank_until(end_of_literal());
      } else {
        ++at_;
      }
    }
    return code_;
  }

 private:
  [[nodiscard]] bool starts(std::string_view with) const { return text_.substr(at_).starts_with(with); }
  [[nodiscard]] bool follows_a_word() const { return at_ > 0 && is_word(text_[at_ - 1]); }
  [[nodiscard]] std::size_t find(std::string_view what) const { return std::min(text_.find(what, at_), text_.size()); }
  [[nodiscard]] std::size_t after(std::string_view what, std::size_t from) const {
    const std::size_t found = text_.find(what, from);
    return found == nowhere ? text_.size() : found + what.size();
  }
  [[nodiscard]] bool line_is_blank_so_far() const {
    std::size_t place = at_;
    while (place > 0 && text_[place - 1] == ' ') --place;
    return place == 0 || text_[place - 1] == '\n';
  }
  [[nodiscard]] std::size_t end_of_directive() const {
    std::size_t end = find("\n");
    while (end < text_.size() && text_[end - 1] == '\\') end = std::min(text_.find('\n', end + 1), text_.size());
    return end;
  }
  [[nodiscard]] std::size_t end_of_literal() const {
    std::size_t place = at_ + 1;
    while (place < text_.size() && text_[place] != text_[at_]) place += text_[place] == '\\' ? 2 : 1;
    return std::min(place + 1, text_.size());
  }
  void blank_until(std::size_t end) {
    const bool literal = text_[at_] == '"' || text_[at_] == '\'' || text_[at_] == 'R';
    const char mark = text_[at_] == '\'' ? '\'' : '"';
    for (std::size_t place = at_; place < end; ++place) {
      if (text_[place] != '\n') code_[place] = ' ';
    }
    if (literal) code_[at_] = code_[end - 1] = mark;  // a literal stays one, empty
    at_ = end;
  }

  std::string_view text_;
  std::string code_;
  std::size_t at_ = 0;
};

}  // namespace

std::vector<SourceFile> source_files(const fs::path& top, const std::vector<std::string>& folders) {
  std::vector<SourceFile> result;
  for (const std::string& folder : folders) {
    for (const auto& entry : fs::recursive_directory_iterator(top / folder)) {
      const std::string kind = entry.path().extension().string();
      if (!entry.is_regular_file() || (kind != ".h" && kind != ".cpp")) continue;
      std::ostringstream text;
      text << std::ifstream(entry.path()).rdbuf();
      result.push_back({entry.path().lexically_relative(top).generic_string(), text.str()});
    }
  }
  std::sort(result.begin(), result.end(),
            [](const SourceFile& one, const SourceFile& other) { return one.name < other.name; });
  return result;
}

std::string code_only(std::string_view text) { return Blanker(text).code(); }

std::vector<std::string> includes(std::string_view text) {
  std::vector<std::string> result;
  for (const std::string& line : lines(text)) {
    if (!line.starts_with("#include ")) continue;
    const std::size_t open = line.find_first_of("\"<");
    const std::size_t close = line.find_last_of("\">");
    if (open != nowhere && close > open) result.push_back(line.substr(open + 1, close - open - 1));
  }
  return result;
}

std::size_t count_word(std::string_view text, std::string_view word) {
  std::size_t count = 0;
  for (std::size_t at = text.find(word); at != nowhere; at = text.find(word, at + 1)) {
    const std::size_t end = at + word.size();
    const bool begins = at == 0 || !is_word(text[at - 1]);
    if (begins && (end == text.size() || !is_word(text[end]))) ++count;
  }
  return count;
}

std::vector<std::string> lines(std::string_view text) {
  std::vector<std::string> result;
  std::istringstream stream{std::string(text)};
  for (std::string line; std::getline(stream, line);) result.push_back(line);
  return result;
}

bool opens_with_a_sentence(std::string_view text) {
  std::string comment;
  for (const std::string& line : lines(text)) {
    if (!line.starts_with("// ")) break;
    comment = line;
  }
  return comment.size() > 4 && comment.back() == '.';
}

}  // namespace lapwright::house
