#include "tests/unit/await_scan.h"

#include <algorithm>
#include <array>
#include <cctype>

#include "tests/unit/source_text.h"

namespace lapwright::house {
namespace {

bool is_word(char letter) { return std::isalnum(static_cast<unsigned char>(letter)) != 0 || letter == '_'; }

std::string trimmed(const std::string& text) {
  const std::size_t first = text.find_first_not_of(" \n");
  return first == std::string::npos ? "" : text.substr(first, text.find_last_not_of(" \n") - first + 1);
}

std::string last_word(const std::string& text) {
  std::size_t from = text.size();
  while (from > 0 && is_word(text[from - 1])) --from;
  return text.substr(from);
}

/// A lambda's introducer follows what no value can end with; a subscript or a structured binding follows a word.
bool has_capturing_lambda(const std::string& statement) {
  for (std::size_t at = statement.find('['); at != std::string::npos; at = statement.find('[', at + 1)) {
    const std::size_t close = statement.find(']', at);
    if (close == std::string::npos) return false;
    const std::string before = trimmed(statement.substr(0, at));
    const std::string word = last_word(before);
    const bool after_keyword = word == "return" || word == "co_return" || word == "co_await";
    const bool after_value =
        !before.empty() && (before.back() == ')' || before.back() == ']' || (!word.empty() && !after_keyword));
    const bool attribute = statement[at + 1] == '[';
    const std::string after = trimmed(statement.substr(close + 1));
    const bool binding = after.starts_with("=") || after.starts_with(":");
    const bool captures = !trimmed(statement.substr(at + 1, close - at - 1)).empty();
    if (captures && !after_value && !attribute && !binding) return true;
    if (attribute) at = close;
  }
  return false;
}

std::string trouble_in(const std::string& statement) {
  const std::size_t awaits = count_word(statement, "co_await");
  if (awaits == 0) return "";
  if (awaits > 1) return "two co_await in one statement";
  if (statement.find('{') != std::string::npos) return "a braced initialiser beside co_await";
  if (statement.find('?') != std::string::npos) return "?: beside co_await";
  return has_capturing_lambda(statement) ? "a capturing lambda beside co_await" : "";
}

/// A namespace or a type with its bases: not the type's name in an initialiser.
bool opens_named_block(const std::string& text) {
  if (text.find('(') != std::string::npos) return false;
  static constexpr std::array heads{"namespace", "class", "struct", "enum", "union", "extern"};
  return std::any_of(heads.begin(), heads.end(), [&](const char* head) { return count_word(text, head) > 0; });
}

/// "(…) -> type" or "(…) mutable -> type", as before the body of a lambda.
bool ends_with_return_type(const std::string& text) {
  const std::size_t arrow = text.rfind("->");
  if (arrow == std::string::npos) return false;
  const std::string before = trimmed(text.substr(0, arrow));
  const std::string word = last_word(before);
  const bool after_parameters = before.ends_with(")") || word == "mutable" || word == "const" || word == "noexcept";
  const auto in_a_type = [](char letter) {
    return is_word(letter) || std::string_view(":<>,&* \n").find(letter) != std::string_view::npos;
  };
  return after_parameters && std::all_of(text.begin() + static_cast<std::ptrdiff_t>(arrow) + 2, text.end(), in_a_type);
}

/// Whether a brace after `before` opens a block of statements; otherwise it opens an initialiser.
bool opens_block(const std::string& before, bool inside_initialiser) {
  const std::string text = trimmed(before);
  if (text.empty()) return !inside_initialiser;
  const std::string word = last_word(text);
  static constexpr std::array keywords{"else", "do", "try", "const", "override", "final", "noexcept", "mutable"};
  if (std::find(keywords.begin(), keywords.end(), word) != keywords.end()) return true;
  if (std::string_view(")];").find(text.back()) != std::string_view::npos) return true;
  if (text.back() == '}' || (text.back() == ':' && !text.ends_with("::"))) return !inside_initialiser;
  return opens_named_block(text) || ends_with_return_type(text);
}

class Scan {
 public:
  explicit Scan(const std::string& code) : code_(code) {}

  std::vector<Trap> traps() {
    open_.push_back({});
    for (const char letter : code_) {
      if (letter == '\n') ++line_;
      take(letter);
    }
    return traps_;
  }

 private:
  struct Level {
    std::string statement;
    int parentheses = 0;
    int initialisers = 0;  // braces that are open inside the statement
  };
  void take(char letter) {
    Level& level = open_.back();
    if (letter == '{') {
      if (opens_block(level.statement, level.initialisers > 0)) {
        if (level.parentheses == 0) judge(level);
        open_.push_back({});
        return;
      }
      ++level.initialisers;
    } else if (letter == '}' && level.initialisers > 0) {
      --level.initialisers;
    } else if (letter == '}') {
      if (open_.size() == 1) return;
      open_.pop_back();
      Level& outer = open_.back();
      if (outer.parentheses == 0 && outer.initialisers == 0) outer = {};  // the block was the rest of the statement
      return;
    }
    if (letter == '(') ++level.parentheses;
    if (letter == ')') --level.parentheses;
    level.statement += letter;
    if (letter == ';' && level.parentheses == 0 && level.initialisers == 0) {
      judge(level);
      level = {};
    }
  }
  void judge(const Level& level) {
    const std::string trouble = trouble_in(level.statement);
    if (!trouble.empty()) traps_.push_back({line_, trouble});
  }

  const std::string& code_;
  std::vector<Level> open_;
  std::vector<Trap> traps_;
  std::size_t line_ = 1;
};

}  // namespace

std::vector<Trap> await_traps(std::string_view text) {
  const std::string code = code_only(text);
  return Scan(code).traps();
}

}  // namespace lapwright::house
