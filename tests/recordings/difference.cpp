#include "tests/recordings/difference.h"

#include <algorithm>
#include <sstream>

namespace lapwright::recordings {
namespace {

constexpr std::size_t lines_around = 2;

struct Marked {
  char mark = ' ';
  const std::string* line = nullptr;
};

/// By the longest common subsequence; the texts are some hundred lines long.
std::vector<Marked> marked(const std::vector<std::string>& wanted, const std::vector<std::string>& got) {
  const std::size_t rows = wanted.size() + 1, columns = got.size() + 1;
  std::vector<std::size_t> common(rows * columns, 0);  // of the rests that begin there
  for (std::size_t row = wanted.size(); row-- > 0;) {
    for (std::size_t column = got.size(); column-- > 0;) {
      const std::size_t below = common[(row + 1) * columns + column], right = common[row * columns + column + 1];
      common[row * columns + column] =
          wanted[row] == got[column] ? common[(row + 1) * columns + column + 1] + 1 : std::max(below, right);
    }
  }
  std::vector<Marked> result;
  std::size_t row = 0, column = 0;
  while (row < wanted.size() || column < got.size()) {
    const bool both = row < wanted.size() && column < got.size();
    if (both && wanted[row] == got[column]) {
      result.push_back({' ', &wanted[row]});
      ++row, ++column;
    } else if (column == got.size() ||
               (both && common[(row + 1) * columns + column] >= common[row * columns + column + 1])) {
      result.push_back({'-', &wanted[row++]});
    } else {
      result.push_back({'+', &got[column++]});
    }
  }
  return result;
}

}  // namespace

std::string difference(const std::vector<std::string>& wanted, const std::vector<std::string>& got) {
  if (wanted == got) return "";
  const std::vector<Marked> lines = marked(wanted, got);
  std::string text;
  bool skipping = false;
  for (std::size_t at = 0; at < lines.size(); ++at) {
    const auto from = lines.begin() + static_cast<std::ptrdiff_t>(at - std::min(at, lines_around));
    const auto to = lines.begin() + static_cast<std::ptrdiff_t>(std::min(at + lines_around + 1, lines.size()));
    const bool near = std::any_of(from, to, [](const Marked& line) { return line.mark != ' '; });
    if (near) text += std::string("  ") + lines[at].mark + ' ' + *lines[at].line + '\n';
    if (!near && !skipping) text += "    ...\n";
    skipping = !near;
  }
  return text;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::string text_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + '\n';
  return text;
}

}  // namespace lapwright::recordings
